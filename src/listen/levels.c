#include "listen/levels.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "listen/handtrack.h"
#include "listen/levelchain.h"
#include "thrum/units.h"

#define WOBBLE_LEAST   0.5 /* standard deviation, dB */
#define WOBBLE_USUAL   1.0
#define WOBBLE_MOST    2.5
#define CLEAR_DB       0.5 /* levels with less noise show the wobble */
#define CLEAR_TONE     6.0 /* a level so far above the noise is a wire's */
#define LIFT_DB        8.0 /* the air is at least so far below the usual wire, or lifts are not seen */
#define LIFT_LEAST     4.0 /* and this far below the softer of the touches beside it */
#define NO_AIR_DB      (-1000.0)
#define TOUCH_S        3.0 /* a hand of which nothing is known: median of its touches... */
#define SPREAD         0.5 /* ...and their spread, as a natural logarithm */
#define SPREAD_LEAST   0.3
#define LIFT_S         0.55 /* the same of lifts */
#define LIFT_SPREAD    0.45
#define TONELESS       0.1  /* share of wires without tone in the best chain, before any is known... */
#define FIRST_TONELESS 0.03 /* ...and in a first look */
#define LONG_LIFT      0.8  /* a lift longer than this part of a touch... */
#define LONG_DOUBT     0.1  /* ...may as well have been a wire: with this chance at least */
#define STEP_DOUBT     0.4 /* where the hand does not lift, numbers are wrong less often than the model has it */
#define NEAR_S         0.4 /* two borders as near as this are the same */
#define KNOWN          4   /* touches from which on a hand is known */

enum { LOOKS = 2, COUNTS = 400, SHARES = 3 };

/* What the share of wires without tone may be, and how likely that is where nothing is known. */
static const double share_of_toneless[SHARES] = {0.08, 0.3, 0.7}, share_before[SHARES] = {0.45, 0.3, 0.25};

struct thrum_levels {
    struct thrum_levelchain *chain;
    struct thrum_levelchain_job job;
    struct thrum_habits habits;
    int known;               /* touches the habits rest on */
    double ln_share[SHARES]; /* ln of how likely each share of wires without tone is */
};

enum thrum_status thrum_levels_create(struct thrum_levels **levels)
{
    struct thrum_levels *l = calloc(1, sizeof *l);
    *levels = NULL;
    if (!l)
        return THRUM_ERR_MEM;
    if (thrum_levelchain_create(&l->chain)) {
        thrum_levels_destroy(l);
        return THRUM_ERR_MEM;
    }
    l->habits = (struct thrum_habits){.touch_s = TOUCH_S,
                                      .touch_spread = SPREAD,
                                      .lift_s = LIFT_S,
                                      .lift_spread = LIFT_SPREAD,
                                      .lifted = 0.5,
                                      .toneless = TONELESS};
    for (int i = 0; i < SHARES; i++)
        l->ln_share[i] = log(share_before[i]);
    *levels = l;
    return THRUM_OK;
}

void thrum_levels_destroy(struct thrum_levels *levels)
{
    if (!levels)
        return;
    thrum_levelchain_destroy(levels->chain);
    free(levels);
}

void thrum_levels_learn_lifts(struct thrum_levels *levels)
{
    levels->habits.lifted = fmax(levels->habits.lifted, 0.98);
}

void thrum_levels_learn_touch(struct thrum_levels *levels, double touch_s)
{
    struct thrum_habits *h = &levels->habits;
    h->touch_s *= exp((levels->known ? 0.2 : 1.0) * log(touch_s / h->touch_s));
    if (++levels->known >= KNOWN)
        h->touch_spread = SPREAD_LEAST + 0.1;
}

static double level_db(const struct thrum_levels *l, int i)
{
    return fmax(l->job.row[i].db, l->job.floor_db);
}

static double mean_db(const struct thrum_levels *l, const struct thrum_level_span *span)
{
    double sum = 0.0;
    for (int k = span->first; k < span->end; k++)
        sum += level_db(l, k);
    return sum / (span->end - span->first);
}

/* A lift that sounds like a touch beside it belongs to that touch. Returns how many stretches are left. */
static int drop_loud_lifts(const struct thrum_levels *l, struct thrum_level_span *spans, int n)
{
    int kept = 0;
    for (int i = 0; i < n; i++) {
        bool between =
            i > 0 && i < n - 1 && spans[i].lift && !spans[i + 1].toneless && !spans[kept - 1].toneless;
        if (between) {
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

/* Usual wire and air, from the levels: wires are what is clear of the noise, when anything is. */
static void see_levels(struct thrum_levels *l)
{
    int counts[COUNTS] = {0}, clear[COUNTS] = {0}, n = l->job.n, n_clear = 0;
    l->job.floor_db = -200.0;
    for (int i = 0; i < n; i++)
        l->job.floor_db = fmax(l->job.floor_db, l->job.row[i].noise_db);
    for (int i = 0; i < n; i++) {
        count_in(counts, level_db(l, i), -200.0, 0.5);
        if (l->job.row[i].db < l->job.floor_db + CLEAR_TONE)
            continue;
        count_in(clear, level_db(l, i), -200.0, 0.5);
        n_clear++;
    }
    l->habits.wires_db =
        n_clear > 0 ? quantile(clear, n_clear, 0.5, -200.0, 0.5) : quantile(counts, n, 0.6, -200.0, 0.5);
    l->habits.air_db = quantile(counts, n, 0.05, -200.0, 0.5);
    if (l->habits.air_db > l->habits.wires_db - LIFT_DB)
        l->habits.air_db = NO_AIR_DB;
}

/* The air from the lifts that a first look has found; without any, it is unknown, and no touch is far below the usual. */
static void see_air(struct thrum_levels *l, const struct thrum_level_span *spans, int n_spans)
{
    double sum = 0.0;
    int n = 0;
    for (int i = 1; i < n_spans - 1; i++)
        for (int k = spans[i].first; k < spans[i].end && spans[i].lift; k++, n++)
            sum += level_db(l, k);
    if (n > 0)
        l->habits.air_db = sum / n;
}

/* The hand's wobble from levels a third of a second and more apart; within the stretches, once there are some. */
static void see_wobble(struct thrum_levels *l, const struct thrum_level_span *spans, int n_spans)
{
    const double step = 0.02, apart_s = 0.35;
    int counts[COUNTS] = {0}, n = 0, span = 0;
    double noise = 0.0;
    for (int i = 0, j = 0; i < l->job.n; i++) {
        while (j < l->job.n && l->job.row[j].from_s < l->job.row[i].from_s + apart_s)
            j++;
        while (span < n_spans && spans[span].end <= i)
            span++;
        if (j < l->job.n && fmax(l->job.row[i].sd_db, l->job.row[j].sd_db) > CLEAR_DB)
            continue;
        if (j == l->job.n || (n_spans > 0 && (spans[span].lift || j >= spans[span].end)))
            continue;
        count_in(counts, fabs(l->job.row[j].db - l->job.row[i].db), 0.0, step);
        noise += l->job.row[i].sd_db * l->job.row[i].sd_db + l->job.row[j].sd_db * l->job.row[j].sd_db;
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
    thrum_order(x, n);
    return x[n / 2];
}

static double length_s(const struct thrum_levels *l, const struct thrum_level_span *span)
{
    return thrum_levelchain_border_s(l->chain, span->end) - thrum_levelchain_border_s(l->chain, span->first);
}

/* How long a lift between two wires with tone was: its ends lie in the pauses beside it. 0 when it is none. */
static double lift_length_s(const struct thrum_levels *l, const struct thrum_level_span *span)
{
    const struct thrum_level *row = l->job.row;
    if (!span->lift || span[-1].toneless || span[1].toneless)
        return 0.0;
    double s = 0.5 * (row[span->end].from_s - row[span->first - 1].to_s + row[span->end - 1].to_s -
                      row[span->first].from_s);
    return s < 0.6 * l->habits.touch_s ? s : 0.0;
}

/* A usual length, and its spread, moved towards those found. Below `known` it rests on what was found before. */
static void see_lengths(double *ln, int n, double before, double *median_s, double *spread, double most)
{
    if (n < KNOWN)
        return;
    double middle = median(ln, n), weight = n / (n + before);
    for (int i = 0; i < n; i++)
        ln[i] = fabs(ln[i] - middle);
    double found = 1.2 * 1.4826 * median(ln, n);
    *median_s *= exp(weight * (middle - log(*median_s)));
    *spread += weight * (fmin(fmax(found, SPREAD_LEAST), most) - *spread);
}

/* How this hand works, from the touches and lifts found. */
static void see_hand(struct thrum_levels *l, const struct thrum_level_span *spans, int n)
{
    double touch[THRUM_LEVELS_MAX], lift[THRUM_LEVELS_MAX], borders = 0.0, lifts = 0.0;
    int touches = 0, lengths = 0, toneless = 0;
    for (int i = 1; i < n - 1; i++) {
        lifts += spans[i].lift ? 1.0 : 0.0;
        borders += !spans[i].lift && !spans[i - 1].lift ? 1.0 : 0.0;
        toneless += spans[i].toneless;
        if (!spans[i].lift && !spans[i].toneless)
            touch[touches++] = log(length_s(l, &spans[i]));
        else if (lift_length_s(l, &spans[i]) > 0.0)
            lift[lengths++] = log(lift_length_s(l, &spans[i]));
    }
    struct thrum_habits *h = &l->habits;
    double before = fmin(l->known, 20.0) + 2.0;
    h->toneless = (toneless + 4.0 * h->toneless) / (touches + toneless + 4);
    if (touches >= KNOWN)
        h->lifted = (lifts + h->lifted) / (borders + lifts + 1.0);
    see_lengths(touch, touches, before, &h->touch_s, &h->touch_spread, SPREAD);
    see_lengths(lift, lengths, before, &h->lift_s, &h->lift_spread, LIFT_SPREAD);
}

static double border_s(const struct thrum_levels *l, int b)
{
    return thrum_levelchain_border_s(l->chain, b);
}

/* The chance that a wire begins near there as the nth. */
static double begins_near(const struct thrum_levels *l, double at_s, double near_s, int nth)
{
    double sum = 0.0;
    for (int b = 0; b < l->job.n; b++)
        if (fabs(border_s(l, b) - at_s) <= near_s)
            sum += thrum_levelchain_begins_as(l->chain, b, nth);
    return sum;
}

/* How many wires without tone there have most likely been in the quiet before a touch that would be the nth without. */
static int toneless_before(const struct thrum_levels *l, const struct thrum_level_span *touch, int nth,
                           int most)
{
    double at_s = border_s(l, touch->first), top = -1.0;
    int best = 0;
    for (int k = 0; k < THRUM_LEVELCHAIN_COUNTS - 1 && k <= most; k++) {
        double chance = begins_near(l, at_s, NEAR_S, nth + k);
        if (chance > top) {
            top = chance;
            best = k;
        }
    }
    return best;
}

/* The quiet [first, end): so many wires without tone side by side, or one lift. */
static int fill_quiet(struct thrum_level_span *spans, int n, int first, int end, int wires)
{
    int parts = wires > 0 ? wires : 1;
    for (int i = 0; i < parts && end > first; i++)
        spans[n++] = (struct thrum_level_span){.first = first + (end - first) * i / parts,
                                               .end = first + (end - first) * (i + 1) / parts,
                                               .lift = wires == 0,
                                               .toneless = wires > 0};
    return n;
}

/*
 * The best chain has too few wires without tone, since of many there are as many ways more than of few: their number is
 * what all chains say. Returns how many stretches there are then.
 */
static int number(const struct thrum_levels *l, struct thrum_level_span *spans, int n)
{
    struct thrum_level_span best[THRUM_LEVELS_MAX];
    int made = 0, nth = 0, quiet = 0;
    memcpy(best, spans, (size_t)n * sizeof *best);
    for (int i = 0; i < n; i++) {
        if (best[i].lift || best[i].toneless)
            continue;
        int from = i > quiet ? best[quiet].first : best[i].first;
        int wires = i > quiet ? toneless_before(l, &best[i], nth, best[i].first - from) : 0;
        made = fill_quiet(spans, made, from, best[i].first, wires);
        spans[made++] = best[i];
        nth += wires + 1;
        quiet = i + 1;
    }
    for (int i = quiet; i < n; i++)
        spans[made++] = best[i];
    return made;
}

/*
 * A touch is in doubt when its beginning is, or its number, or when another may begin within it. After quiet that was
 * long enough for a wire without tone no number is beyond doubt, whatever hands usually do.
 */
static void doubt(const struct thrum_levels *l, struct thrum_level_span *spans, int n)
{
    double least = 0.0;
    int nth = 0;
    for (int i = 0; i < n; i++) {
        double within = 0.0, first_s = border_s(l, spans[i].first), end_s = border_s(l, spans[i].end);
        double near_s = spans[i].toneless ? 0.5 * (end_s - first_s) : NEAR_S;
        if (spans[i].lift) {
            least = end_s - first_s > LONG_LIFT * l->habits.touch_s ? LONG_DOUBT : least;
            continue;
        }
        for (int b = spans[i].first + 1; b < spans[i].end; b++)
            if (fabs(border_s(l, b) - end_s) > near_s && fabs(border_s(l, b) - first_s) > near_s)
                within += thrum_levelchain_begins(l->chain, b);
        double here = begins_near(l, first_s, near_s, nth++);
        double model = fmax(1.0 - here, within) * (l->habits.lifted < 0.5 ? STEP_DOUBT : 1.0);
        spans[i].doubt = fmin(fmax(model, least), 1.0);
    }
}

void thrum_levels_given(struct thrum_levels *levels, const struct thrum_level_span *spans, int n)
{
    struct thrum_levels *l = levels;
    for (int i = 0; i < n; i++)
        for (int k = 0; k < SHARES && !spans[i].lift; k++)
            l->ln_share[k] += log(spans[i].toneless ? share_of_toneless[k] : 1.0 - share_of_toneless[k]);
}

/* The habits of hand, air and wires by looking twice; with them the best chain and its doubts. Returns how many stretches it has. */
static int look(struct thrum_levels *l, struct thrum_level_span *spans)
{
    const struct thrum_habits before = l->habits;
    int count = 0;
    l->habits.toneless = FIRST_TONELESS; /* lifts must be known before quiet can be told from them */
    for (int i = 0; i < LOOKS; i++) {
        thrum_levelchain_run(l->chain, &l->job, &l->habits);
        count = thrum_levelchain_best(l->chain, spans);
        struct thrum_habits seen = l->habits;
        l->habits = before;
        l->habits.wobble_db = seen.wobble_db;
        l->habits.air_db = seen.air_db;
        see_wobble(l, spans, count);
        see_air(l, spans, count);
        see_hand(l, spans, count);
    }
    thrum_levelchain_run(l->chain, &l->job, &l->habits);
    count = drop_loud_lifts(l, spans, thrum_levelchain_best(l->chain, spans));
    thrum_levelchain_sum(l->chain, share_of_toneless, l->ln_share, SHARES);
    count = number(l, spans, count);
    doubt(l, spans, count);
    l->habits = before;
    return count;
}

int thrum_levels_split(struct thrum_levels *levels, const struct thrum_level *row, int n,
                       const double *before_s, struct thrum_level_span *spans)
{
    struct thrum_levels *l = levels;
    l->job = (struct thrum_levelchain_job){.row = row,
                                           .n = n < THRUM_LEVELS_MAX ? n : THRUM_LEVELS_MAX,
                                           .carried = before_s != NULL,
                                           .before_s = before_s ? *before_s : 0.0};
    if (l->job.n < 1)
        return 0;
    see_levels(l);
    l->habits.wobble_db = WOBBLE_USUAL;
    see_wobble(l, NULL, 0);
    l->habits.wobble_db = fmax(l->habits.wobble_db, WOBBLE_USUAL);
    int count = look(l, spans), touches = 0;
    see_hand(l, spans, count);
    for (int i = 0; i < count; i++)
        touches += !spans[i].lift;
    l->known += touches > 1 ? touches - 1 : 0;
    return count;
}
