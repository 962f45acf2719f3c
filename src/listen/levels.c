#include "listen/levels.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/handtrack.h"
#include "thrum/units.h"

#define WOBBLE_LEAST 0.5 /* standard deviation, dB */
#define WOBBLE_USUAL 1.0
#define WOBBLE_MOST  2.5
#define CLEAR_DB     0.5 /* levels with less noise show the wobble */
#define WIRES_DB     8.0 /* how far wires differ, standard deviation */
#define AIR_DB       4.0 /* how far lifts differ */
#define LIFT_DB      8.0 /* the air is at least so far below the usual wire, or lifts are not seen */
#define LIFT_LEAST   4.0 /* and this far below the softer of the touches beside it */
#define TOUCH_S      3.0 /* a hand of which nothing is known: median of its touches... */
#define SPREAD       0.7 /* ...and their spread, as a natural logarithm */
#define SPREAD_LEAST 0.3
#define RESTS_S      0.7  /* who touches a wire rests there for about so long at least... */
#define RESTS_SPREAD 0.25 /* ...give or take */
#define LIFT_S       0.55 /* the same of lifts */
#define LIFT_SPREAD  0.45
#define LIFT_MOST_S  5.0
#define LIFT_PART    0.7 /* where the tone is clear, a lift lasts no more than this part of a touch... */
#define CLEAR_TONE   6.0 /* ...clear: so many dB above the noise */
#define NEAR_S       0.4 /* two borders as near as this are the same */
#define KNOWN        4   /* touches from which on a hand is known */
#define STEP_LN                                                                                              \
    (-1.5) /* a step without a lift must show: hands wobble worse at times than the model has it */
#define NONE_LN (-1e30)

enum kind { TOUCH, LIFT, KINDS };

enum { COUNTS = 400 };

/* What is known of hand and air. */
struct habits {
    double touch_s, spread, lifted; /* share of borders with a lift */
    double wobble_db, wires_db, air_db;
};

/* One way of filling the row up to a border, and the sum of all ways. */
struct ways {
    double best, sum; /* ln */
    int from;         /* where the last stretch of the best begins */
    enum kind before; /* what was before that */
};

struct thrum_levels {
    const struct thrum_level *row;
    int n;
    bool carried;    /* a touch ended before the row */
    double before_s; /* end of its last level */
    double floor_db; /* what is softer counts as this: noise is not the same all along */
    struct habits habits;
    int known;                                      /* touches the habits rest on */
    struct ways until[KINDS][THRUM_LEVELS_MAX + 1]; /* stretches that end at a border */
    double after[KINDS][THRUM_LEVELS_MAX + 1];      /* ln of the sum of all ways on from a border */
    struct thrum_handmove move[THRUM_LEVELS_MAX];   /* to a level from the one before */
    double begins[THRUM_LEVELS_MAX];                /* chance that a touch begins with a level */
};

enum thrum_status thrum_levels_create(struct thrum_levels **levels)
{
    struct thrum_levels *l = calloc(1, sizeof *l);
    *levels = l;
    if (!l)
        return THRUM_ERR_MEM;
    l->habits = (struct habits){.touch_s = TOUCH_S, .spread = SPREAD, .lifted = 0.5};
    return THRUM_OK;
}

void thrum_levels_destroy(struct thrum_levels *levels)
{
    free(levels);
}

void thrum_levels_learn_lifts(struct thrum_levels *levels)
{
    levels->habits.lifted = fmax(levels->habits.lifted, 0.98);
}

void thrum_levels_learn_touch(struct thrum_levels *levels, double touch_s)
{
    struct habits *h = &levels->habits;
    h->touch_s *= exp((levels->known ? 0.2 : 1.0) * log(touch_s / h->touch_s));
    if (++levels->known >= KNOWN)
        h->spread = SPREAD_LEAST + 0.1;
}

static double add_ln(double a, double b)
{
    double high = fmax(a, b), low = fmin(a, b);
    return high - low > 40.0 ? high : high + log1p(exp(low - high));
}

/* Time of border b, between two levels; the row's ends are borders too. */
static double border_s(const struct thrum_levels *l, int b)
{
    if (b == 0 || b == l->n)
        return b == 0 ? l->row[0].from_s : l->row[l->n - 1].to_s;
    return 0.5 * (l->row[b - 1].to_s + l->row[b].from_s);
}

/* ln of the time in which that border may lie. */
static double room_ln(const struct thrum_levels *l, int b)
{
    const struct thrum_level *before = &l->row[b - 1], *next = &l->row[b];
    return log(0.5 * (next->to_s + next->from_s - before->to_s - before->from_s));
}

static double below(double s, double median_s, double spread)
{
    return s > 0.0 ? 0.5 * erfc(-log(s / median_s) / (spread * sqrt(2.0))) : 0.0;
}

/* ln density of the length of a touch, or of its being no shorter when its end is not in the row. */
static double touch_ln(const struct thrum_levels *l, int from, int to)
{
    const struct habits *h = &l->habits;
    double s = fmax(border_s(l, to) - border_s(l, from), 0.02), z = log(s / h->touch_s) / h->spread;
    double longer = log(0.5 * erfc(z / sqrt(2.0)) + 1e-12);
    if (to == l->n)
        return longer;
    if (from == 0 && !l->carried)
        return longer - log(h->touch_s) + room_ln(l, to);
    double rests = log(below(s, RESTS_S, RESTS_SPREAD) + 1e-12);
    return rests - 0.5 * z * z - log(s * h->spread * sqrt(2.0 * THRUM_PI)) + room_ln(l, to);
}

/* The same of a lift, whose ends may lie in the pauses beside it: the mean over where they may be. */
static double lift_ln(const struct thrum_levels *l, int from, int to)
{
    if (from == 0 && !l->carried)
        return to == l->n ? NONE_LN : -log(LIFT_S) + room_ln(l, to);
    if (to == l->n)
        return log(1.0 - below(l->row[to - 1].to_s - l->row[from].from_s, LIFT_S, LIFT_SPREAD) + 1e-12);
    double least = l->row[to - 1].to_s - l->row[from].from_s;
    double most = l->row[to].from_s - (from > 0 ? l->row[from - 1].to_s : l->before_s);
    double share = below(most, LIFT_S, LIFT_SPREAD) - below(least, LIFT_S, LIFT_SPREAD);
    return log(fmax(share, 1e-12) / fmax(most - least, 1e-3)) + room_ln(l, to);
}

/* The chance, ln, that `kind` follows what was before border b. */
static double follows_ln(const struct habits *h, enum kind before, enum kind kind)
{
    if (before == LIFT)
        return kind == TOUCH ? 0.0 : NONE_LN;
    return kind == LIFT ? log(h->lifted) : log(1.0 - h->lifted) + STEP_LN;
}

/* All stretches of a kind from border b on: ln likelihood and length, from each to its end. */
struct stretch {
    struct thrum_handtrack track;
    enum kind kind;
    int from, to;
};

static struct stretch stretch_from(const struct thrum_levels *l, enum kind kind, int b)
{
    const struct habits *h = &l->habits;
    return (struct stretch){.track = kind == TOUCH
                                         ? thrum_handtrack_begin(h->wires_db, WIRES_DB, h->wobble_db)
                                         : thrum_handtrack_begin(h->air_db, AIR_DB, h->wobble_db),
                            .kind = kind,
                            .from = b,
                            .to = b};
}

/* How long a lift may last that holds this level: a weak wire is touched as long as others, and its tone is clear. */
static double lift_most_s(const struct thrum_levels *l, int from, int at)
{
    bool clear = l->row[at].db > l->row[at].noise_db + CLEAR_TONE, first = from == 0 && !l->carried;
    if (!clear)
        return first ? (double)INFINITY : LIFT_MOST_S; /* before the first touch there is all the time */
    return fmin(LIFT_PART * l->habits.touch_s, LIFT_MOST_S);
}

/* One level more. False at the end of the row. */
static bool stretch_grow(const struct thrum_levels *l, struct stretch *s, double *ln)
{
    if (s->to == l->n)
        return false;
    if (s->kind == LIFT && l->row[s->to].to_s - l->row[s->from].from_s > lift_most_s(l, s->from, s->to))
        return false;
    if (s->to > s->from)
        thrum_handtrack_move(&s->track, &l->move[s->to]);
    thrum_handtrack_see(&s->track, &l->row[s->to++], l->floor_db);
    *ln = s->track.ln + (s->kind == TOUCH ? touch_ln(l, s->from, s->to) : lift_ln(l, s->from, s->to));
    return true;
}

static void prepare_moves(struct thrum_levels *l)
{
    for (int i = 1; i < l->n; i++) {
        double s = 0.5 * (l->row[i].from_s + l->row[i].to_s - l->row[i - 1].from_s - l->row[i - 1].to_s);
        l->move[i] = thrum_handmove_over(s);
    }
}

/* Ways that lead to border b and go on with `kind` there. */
static struct ways ways_to(const struct thrum_levels *l, enum kind kind, int b)
{
    struct ways ways = {.best = NONE_LN, .sum = NONE_LN};
    if (b == 0 && l->carried) {
        double ln = follows_ln(&l->habits, TOUCH, kind);
        return (struct ways){.best = ln, .sum = ln};
    }
    if (b == 0) {
        double lifted = 0.5 * l->habits.lifted * l->habits.lifted,
               ln = log(kind == LIFT ? lifted : 1.0 - lifted);
        return (struct ways){.best = fmax(ln, NONE_LN), .sum = fmax(ln, NONE_LN)};
    }
    for (enum kind before = TOUCH; before < KINDS; before++) {
        double ln = follows_ln(&l->habits, before, kind);
        double best = l->until[before][b].best + ln;
        if (best > ways.best) {
            ways.best = best;
            ways.before = before;
        }
        ways.sum = add_ln(ways.sum, l->until[before][b].sum + ln);
    }
    return ways;
}

static void go_forward(struct thrum_levels *l)
{
    for (int b = 0; b <= l->n; b++)
        l->until[TOUCH][b] = l->until[LIFT][b] = (struct ways){.best = NONE_LN, .sum = NONE_LN};
    for (int b = 0; b < l->n; b++)
        for (enum kind kind = TOUCH; kind < KINDS; kind++) {
            struct ways here = ways_to(l, kind, b);
            struct stretch stretch = stretch_from(l, kind, b);
            double ln;
            while (here.best > 0.5 * NONE_LN && stretch_grow(l, &stretch, &ln)) {
                struct ways *there = &l->until[kind][stretch.to];
                if (here.best + ln > there->best) {
                    there->best = here.best + ln;
                    there->from = b;
                    there->before = here.before;
                }
                there->sum = add_ln(there->sum, here.sum + ln);
            }
        }
}

/* The sums from the other end, and with them the chance of every border. */
static void go_back(struct thrum_levels *l)
{
    double all = add_ln(l->until[TOUCH][l->n].sum, l->until[LIFT][l->n].sum);
    for (int b = l->n - 1; b >= 0; b--)
        for (enum kind kind = TOUCH; kind < KINDS; kind++) {
            struct stretch stretch = stretch_from(l, kind, b);
            double ln, sum = NONE_LN;
            while (stretch_grow(l, &stretch, &ln)) {
                double on = 0.0;
                if (stretch.to < l->n)
                    on = add_ln(follows_ln(&l->habits, kind, TOUCH) + l->after[TOUCH][stretch.to],
                                follows_ln(&l->habits, kind, LIFT) + l->after[LIFT][stretch.to]);
                sum = add_ln(sum, ln + on);
            }
            l->after[kind][b] = sum;
        }
    for (int b = 0; b < l->n; b++)
        l->begins[b] = exp(fmin(ways_to(l, TOUCH, b).sum + l->after[TOUCH][b] - all, 0.0));
}

static int best_chain(const struct thrum_levels *l, struct thrum_level_span *spans)
{
    enum kind last = l->until[LIFT][l->n].best > l->until[TOUCH][l->n].best ? LIFT : TOUCH;
    int count = 0, at;
    enum kind kind = last;
    for (int end = l->n; end > 0; count++) {
        const struct ways *ways = &l->until[kind][end];
        end = ways->from;
        kind = ways->before;
    }
    at = count;
    kind = last;
    for (int end = l->n; end > 0;) {
        const struct ways *ways = &l->until[kind][end];
        spans[--at] = (struct thrum_level_span){.first = ways->from, .end = end, .lift = kind == LIFT};
        end = ways->from;
        kind = ways->before;
    }
    return count;
}

static double mean_db(const struct thrum_levels *l, const struct thrum_level_span *span)
{
    double sum = 0.0;
    for (int k = span->first; k < span->end; k++)
        sum += fmax(l->row[k].db, l->floor_db);
    return sum / (span->end - span->first);
}

/* A lift that sounds like a touch beside it belongs to that touch. Returns how many stretches are left. */
static int drop_loud_lifts(const struct thrum_levels *l, struct thrum_level_span *spans, int n)
{
    int kept = 0;
    for (int i = 0; i < n; i++) {
        if (i > 0 && i < n - 1 && spans[i].lift) {
            double here = mean_db(l, &spans[i]), before = mean_db(l, &spans[kept - 1]),
                   next = mean_db(l, &spans[i + 1]);
            if (here > fmin(before, next) - LIFT_LEAST) {
                if (fabs(here - before) < fabs(here - next))
                    spans[kept - 1].end = spans[i].end;
                else
                    spans[i + 1].first = spans[i].first;
                continue;
            }
        }
        spans[kept++] = spans[i];
    }
    return kept;
}

/* The value below which a share of all counted ones lies. */
static double quantile(const int *counts, int n, double share, double low, double step)
{
    int wanted = (int)(share * n), sum = 0;
    for (int i = 0; i < COUNTS; i++) {
        sum += counts[i];
        if (sum > wanted)
            return low + (i + 0.5) * step;
    }
    return low + COUNTS * step;
}

static void count_in(int *counts, double value, double low, double step)
{
    int i = (int)fmin(fmax((value - low) / step, 0.0), COUNTS - 1.0);
    counts[i]++;
}

/* Usual wire and air, from the levels. */
static void see_levels(struct thrum_levels *l)
{
    int counts[COUNTS] = {0};
    l->floor_db = -200.0;
    for (int i = 0; i < l->n; i++)
        l->floor_db = fmax(l->floor_db, l->row[i].noise_db);
    for (int i = 0; i < l->n; i++)
        count_in(counts, fmax(l->row[i].db, l->floor_db), -200.0, 0.5);
    l->habits.wires_db = quantile(counts, l->n, 0.6, -200.0, 0.5);
    l->habits.air_db = quantile(counts, l->n, 0.05, -200.0, 0.5);
    if (l->habits.air_db > l->habits.wires_db - LIFT_DB)
        l->habits.air_db = -1000.0;
}

/* The air from the lifts that a first look has found; without any, it is unknown, and no touch is far below the usual. */
static void see_air(struct thrum_levels *l, const struct thrum_level_span *spans, int n_spans)
{
    double sum = 0.0;
    int n = 0;
    for (int i = 1; i < n_spans - 1; i++)
        for (int k = spans[i].first; k < spans[i].end && spans[i].lift; k++, n++)
            sum += fmax(l->row[k].db, l->floor_db);
    if (n > 0)
        l->habits.air_db = sum / n;
}

/* The hand's wobble from levels a third of a second and more apart; within the stretches, once there are some. */
static void see_wobble(struct thrum_levels *l, const struct thrum_level_span *spans, int n_spans)
{
    const double step = 0.02, apart_s = 0.35;
    int counts[COUNTS] = {0}, n = 0, span = 0;
    double noise = 0.0;
    for (int i = 0, j = 0; i < l->n; i++) {
        while (j < l->n && l->row[j].from_s < l->row[i].from_s + apart_s)
            j++;
        while (span < n_spans && spans[span].end <= i)
            span++;
        if (j < l->n && fmax(l->row[i].sd_db, l->row[j].sd_db) > CLEAR_DB)
            continue;
        if (j == l->n || (n_spans > 0 && (spans[span].lift || j >= spans[span].end)))
            continue;
        count_in(counts, fabs(l->row[j].db - l->row[i].db), 0.0, step);
        noise += l->row[i].sd_db * l->row[i].sd_db + l->row[j].sd_db * l->row[j].sd_db;
        n++;
    }
    if (n < 4)
        return;
    /* quarter and half of a normal value's size; without stretches half of the pairs may straddle a border */
    double size = n_spans > 0 ? quantile(counts, n, 0.5, 0.0, step) / 0.6745
                              : quantile(counts, n, 0.25, 0.0, step) / 0.3186;
    double u = 1.1 * apart_s / THRUM_HAND_S,
           square = (size * size - noise / n) / (2.0 - 2.0 * (1.0 + u) * exp(-u));
    l->habits.wobble_db = sqrt(fmin(fmax(square, WOBBLE_LEAST * WOBBLE_LEAST), WOBBLE_MOST * WOBBLE_MOST));
}

static double median(double *x, int n)
{
    for (int i = 1; i < n; i++) {
        double value = x[i];
        int at = i;
        for (; at > 0 && x[at - 1] > value; at--)
            x[at] = x[at - 1];
        x[at] = value;
    }
    return x[n / 2];
}

/* How this hand works, from the touches and lifts found. */
static void see_hand(struct thrum_levels *l, const struct thrum_level_span *spans, int n)
{
    double ln[THRUM_LEVELS_MAX], borders = 0.0, lifts = 0.0;
    int touches = 0;
    for (int i = 1; i < n - 1; i++) {
        lifts += spans[i].lift ? 1.0 : 0.0;
        borders += !spans[i].lift && !spans[i - 1].lift ? 1.0 : 0.0;
        if (!spans[i].lift)
            ln[touches++] = log(border_s(l, spans[i].end) - border_s(l, spans[i].first));
    }
    borders += lifts;
    if (touches < KNOWN)
        return;
    struct habits *h = &l->habits;
    double middle = median(ln, touches), weight = touches / (touches + fmin(l->known, 20.0) + 4.0);
    for (int i = 0; i < touches; i++)
        ln[i] = fabs(ln[i] - middle);
    double spread = 1.4826 * median(ln, touches);
    h->touch_s *= exp(weight * (middle - log(h->touch_s)));
    h->spread += weight * (fmin(fmax(1.2 * spread, SPREAD_LEAST), SPREAD) - h->spread);
    h->lifted = (lifts + h->lifted) / (borders + 1.0);
}

static double near_s(const struct thrum_levels *l, int a, int b)
{
    return fabs(border_s(l, a) - border_s(l, b));
}

/* A touch is in doubt when its beginning is, or when another may begin within it. */
static void doubt(const struct thrum_levels *l, struct thrum_level_span *spans, int n)
{
    for (int i = 0; i < n; i++) {
        double here = 0.0, within = 0.0;
        for (int b = 0; b < l->n && !spans[i].lift; b++) {
            bool begins = near_s(l, b, spans[i].first) <= NEAR_S;
            bool inside = b > spans[i].first && b < spans[i].end && near_s(l, b, spans[i].end) > NEAR_S;
            here += begins ? l->begins[b] : 0.0;
            within += inside && !begins ? l->begins[b] : 0.0;
        }
        spans[i].doubt = spans[i].lift ? 0.0 : fmin(fmax(i > 0 ? 1.0 - here : 0.0, within), 1.0);
    }
}

int thrum_levels_split(struct thrum_levels *levels, const struct thrum_level *row, int n,
                       const double *before_s, struct thrum_level_span *spans)
{
    struct thrum_levels *l = levels;
    l->row = row;
    l->carried = before_s != NULL;
    l->before_s = before_s ? *before_s : 0.0;
    l->n = n < THRUM_LEVELS_MAX ? n : THRUM_LEVELS_MAX;
    if (l->n < 1)
        return 0;
    l->habits.wobble_db = WOBBLE_USUAL;
    see_levels(l);
    prepare_moves(l);
    see_wobble(l, NULL, 0);
    l->habits.wobble_db = fmax(l->habits.wobble_db, WOBBLE_USUAL);
    go_forward(l);
    int count = best_chain(l, spans);
    struct habits before = l->habits;
    see_wobble(l, spans, count);
    see_air(l, spans, count);
    see_hand(l, spans, count);
    go_forward(l);
    go_back(l);
    count = drop_loud_lifts(l, spans, best_chain(l, spans));
    doubt(l, spans, count);
    l->habits = before;
    see_hand(l, spans, count);
    int touches = 0;
    for (int i = 0; i < count; i++)
        touches += !spans[i].lift;
    l->known += touches > 1 ? touches - 1 : 0;
    return count;
}
