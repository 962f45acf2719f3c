#include "listen/levelchain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/room.h"
#include "listen/handtrack.h"
#include "thrum/units.h"

#define WIRES_DB     8.0  /* how far wires differ, standard deviation */
#define AIR_DB       4.0  /* how far lifts differ */
#define RESTS_S      0.7  /* who touches a wire rests there for about so long at least... */
#define RESTS_SPREAD 0.25 /* ...give or take */
#define LIFT_MOST_S  5.0
#define LIFT_PART    0.7 /* where the tone is clear, a lift lasts no more than this part of a touch... */
#define CLEAR_TONE   6.0 /* ...clear: so many dB above the noise */
#define WAIT_S       3.0 /* before the first wire and after the last the probe is in the air for about so long */
#define CUT_OFF      0.1 /* sound begins in the midst of a wire without tone that much less often than with tone */
/* A step without a lift must show: hands wobble worse at times than the model has it */
#define STEP_LN     (-1.0)
#define NONE_LN     (-1e30)
#define LEAST_S     0.02
#define LEAST_SHARE 1e-9

enum kind { TOUCH, TONELESS, LIFT, KINDS };

enum {
    COUNTS = THRUM_LEVELCHAIN_COUNTS,
    BORDERS = THRUM_LEVELS_MAX + 1
}; /* wires are counted modulo COUNTS */

/* One way of filling the row up to a border, and the sum of all ways. */
struct ways {
    double best, sum; /* ln */
    int from;         /* where the last stretch of the best begins */
    enum kind before; /* what was before that */
};

struct thrum_levelchain {
    struct thrum_levelchain_job job;
    struct thrum_habits habits;
    struct thrum_handmove move[THRUM_LEVELS_MAX]; /* to a level from the one before */
    float ln[KINDS][THRUM_LEVELS_MAX][BORDERS];   /* of a stretch from a border to another */
    int reach[KINDS][THRUM_LEVELS_MAX];           /* the last border a stretch from there may reach */
    struct ways until[KINDS][BORDERS];            /* stretches that end at a border */
    double after[KINDS][BORDERS];         /* ln of the sum of all ways on from a border, by what is next */
    double on[KINDS][BORDERS];            /* the same by what was before */
    double count[KINDS][BORDERS][COUNTS]; /* shares of until.sum by how many wires they have */
    double begins[BORDERS][COUNTS];       /* chance that a wire begins here as the nth */
};

enum thrum_status thrum_levelchain_create(struct thrum_levelchain **chain)
{
    *chain = thrum_room(sizeof **chain);
    return *chain ? THRUM_OK : THRUM_ERR_MEM;
}

void thrum_levelchain_destroy(struct thrum_levelchain *chain)
{
    free(chain);
}

static double add_ln(double a, double b)
{
    double high = fmax(a, b), low = fmin(a, b);
    return high - low > 40.0 ? high : high + log1p(exp(low - high));
}

double thrum_levelchain_border_s(const struct thrum_levelchain *chain, int b)
{
    const struct thrum_level *row = chain->job.row;
    if (b == 0 || b == chain->job.n)
        return b == 0 ? row[0].from_s : row[chain->job.n - 1].to_s;
    return 0.5 * (row[b - 1].to_s + row[b].from_s);
}

/* ln of the time in which that border may lie. */
static double room_ln(const struct thrum_levelchain *c, int b)
{
    const struct thrum_level *before = &c->job.row[b - 1], *next = &c->job.row[b];
    return log(0.5 * (next->to_s + next->from_s - before->to_s - before->from_s));
}

static double below(double s, double median_s, double spread)
{
    return s > 0.0 ? 0.5 * erfc(-log(s / median_s) / (spread * sqrt(2.0))) : 0.0;
}

static bool first_of_all(const struct thrum_levelchain *c, int from)
{
    return from == 0 && !c->job.carried;
}

/* ln density of the length of a touch, or of its being no shorter when its end is not in the row. */
static double touch_ln(const struct thrum_levelchain *c, int from, int to)
{
    const struct thrum_habits *h = &c->habits;
    double s = fmax(thrum_levelchain_border_s(c, to) - thrum_levelchain_border_s(c, from), LEAST_S);
    double z = log(s / h->touch_s) / h->touch_spread;
    double longer = log(0.5 * erfc(z / sqrt(2.0)) + 1e-12);
    if (to == c->job.n)
        return longer;
    if (first_of_all(c, from))
        return longer - log(h->touch_s) + room_ln(c, to);
    double rests = log(below(s, RESTS_S, RESTS_SPREAD) + 1e-12);
    return rests - 0.5 * z * z - log(s * h->touch_spread * sqrt(2.0 * THRUM_PI)) + room_ln(c, to);
}

/* The same of a lift, whose ends may lie in the pauses beside it: the mean over where they may be. */
static double lift_ln(const struct thrum_levelchain *c, int from, int to)
{
    const struct thrum_level *row = c->job.row;
    const struct thrum_habits *h = &c->habits;
    double least = row[to - 1].to_s - row[from].from_s;
    if (first_of_all(c, from))
        return to == c->job.n ? NONE_LN : -least / WAIT_S - log(WAIT_S) + room_ln(c, to);
    if (to == c->job.n)
        return log(0.5 * (1.0 - below(least, h->lift_s, h->lift_spread)) + 0.5 * exp(-least / WAIT_S));
    double most = row[to].from_s - (from > 0 ? row[from - 1].to_s : c->job.before_s);
    double share = below(most, h->lift_s, h->lift_spread) - below(least, h->lift_s, h->lift_spread);
    return log(fmax(share, 1e-12) / fmax(most - least, 1e-3)) + room_ln(c, to);
}

/* The chance, ln, that `kind` follows what was before a border. */
static double follows_ln(const struct thrum_habits *h, enum kind before, enum kind kind)
{
    double share = kind == TONELESS ? h->toneless : 1.0 - h->toneless;
    if (before == LIFT)
        return kind == LIFT ? NONE_LN : log(share);
    if (kind == LIFT)
        return log(h->lifted);
    return log(1.0 - h->lifted) + log(share) + (before == TOUCH && kind == TOUCH ? STEP_LN : 0.0);
}

/* How long a lift of this level may last: a weak wire is touched as long as others, and its tone is clear. */
static double lift_most_s(const struct thrum_levelchain *c, int from, double over_noise_db)
{
    if (over_noise_db <= CLEAR_TONE) /* before the first touch there is all the time */
        return first_of_all(c, from) ? (double)INFINITY : LIFT_MOST_S;
    return fmin(LIFT_PART * c->habits.touch_s, LIFT_MOST_S);
}

/* All stretches from one border on. */
static void weigh_from(struct thrum_levelchain *c, int from)
{
    const struct thrum_habits *h = &c->habits;
    struct thrum_handtrack wire = thrum_handtrack_begin(h->wires_db, WIRES_DB, h->wobble_db);
    struct thrum_handtrack air = thrum_handtrack_begin(h->air_db, AIR_DB, h->wobble_db);
    double over_noise_db = 0.0;
    bool lift = true;
    c->reach[LIFT][from] = from;
    c->reach[TOUCH][from] = c->reach[TONELESS][from] = c->job.n;
    for (int to = from + 1; to <= c->job.n; to++) {
        const struct thrum_level *level = &c->job.row[to - 1];
        if (to > from + 1) {
            thrum_handtrack_move(&wire, &c->move[to - 1]);
            thrum_handtrack_move(&air, &c->move[to - 1]);
        }
        thrum_handtrack_see(&wire, level, c->job.floor_db);
        thrum_handtrack_see(&air, level, c->job.floor_db);
        double length = touch_ln(c, from, to);
        c->ln[TOUCH][from][to] = (float)(wire.ln + length);
        c->ln[TONELESS][from][to] = (float)(air.ln + length);
        over_noise_db += (fmax(level->db, c->job.floor_db) - level->noise_db - over_noise_db) / (to - from);
        lift = lift && level->to_s - c->job.row[from].from_s <= lift_most_s(c, from, over_noise_db);
        if (!lift)
            continue;
        c->reach[LIFT][from] = to;
        c->ln[LIFT][from][to] = (float)(air.ln + lift_ln(c, from, to));
    }
}

/* Ways that lead to border b and go on with `kind` there. */
static struct ways ways_to(const struct thrum_levelchain *c, enum kind kind, int b)
{
    struct ways ways = {.best = NONE_LN, .sum = NONE_LN};
    const struct thrum_habits *h = &c->habits;
    if (b == 0 && c->job.carried) {
        double ln = follows_ln(h, TOUCH, kind);
        return (struct ways){.best = ln, .sum = ln};
    }
    if (b == 0) {
        double lifted = 0.5 * h->lifted * h->lifted,
               share = kind == TONELESS ? CUT_OFF * h->toneless : 1.0 - h->toneless;
        double ln = fmax(log(kind == LIFT ? lifted : (1.0 - lifted) * share), NONE_LN);
        return (struct ways){.best = ln, .sum = ln};
    }
    for (enum kind before = TOUCH; before < KINDS; before++) {
        double ln = follows_ln(h, before, kind), best = c->until[before][b].best + ln;
        if (best > ways.best) {
            ways.best = best;
            ways.before = before;
        }
        ways.sum = add_ln(ways.sum, c->until[before][b].sum + ln);
    }
    return ways;
}

static void go_forward(struct thrum_levelchain *c)
{
    for (enum kind kind = TOUCH; kind < KINDS; kind++)
        for (int b = 0; b <= c->job.n; b++)
            c->until[kind][b] = (struct ways){.best = NONE_LN, .sum = NONE_LN};
    for (int b = 0; b < c->job.n; b++)
        for (enum kind kind = TOUCH; kind < KINDS; kind++) {
            struct ways here = ways_to(c, kind, b);
            if (here.best < 0.5 * NONE_LN)
                continue;
            for (int to = b + 1; to <= c->reach[kind][b]; to++) {
                struct ways *there = &c->until[kind][to];
                double ln = (double)c->ln[kind][b][to];
                if (here.best + ln > there->best) {
                    there->best = here.best + ln;
                    there->from = b;
                    there->before = here.before;
                }
                there->sum = add_ln(there->sum, here.sum + ln);
            }
        }
}

void thrum_levelchain_run(struct thrum_levelchain *chain, const struct thrum_levelchain_job *job,
                          const struct thrum_habits *habits)
{
    struct thrum_levelchain *c = chain;
    c->job = *job;
    c->habits = *habits;
    for (int i = 1; i < job->n; i++) {
        const struct thrum_level *now = &job->row[i], *before = now - 1;
        c->move[i] = thrum_handmove_over(0.5 * (now->from_s + now->to_s - before->from_s - before->to_s));
    }
    for (int b = 0; b < job->n; b++)
        weigh_from(c, b);
    go_forward(c);
}

int thrum_levelchain_best(const struct thrum_levelchain *chain, struct thrum_level_span *spans)
{
    const struct thrum_levelchain *c = chain;
    enum kind last = TOUCH, kind;
    int count = 0, at;
    for (enum kind k = TONELESS; k < KINDS; k++)
        last = c->until[k][c->job.n].best > c->until[last][c->job.n].best ? k : last;
    kind = last;
    for (int end = c->job.n; end > 0; count++) {
        const struct ways *ways = &c->until[kind][end];
        end = ways->from;
        kind = ways->before;
    }
    at = count;
    kind = last;
    for (int end = c->job.n; end > 0;) {
        const struct ways *ways = &c->until[kind][end];
        spans[--at] = (struct thrum_level_span){
            .first = ways->from, .end = end, .lift = kind == LIFT, .toneless = kind == TONELESS};
        end = ways->from;
        kind = ways->before;
    }
    return count;
}

/* The sums from the other end. */
static void go_back(struct thrum_levelchain *c)
{
    int n = c->job.n;
    for (enum kind kind = TOUCH; kind < KINDS; kind++)
        c->on[kind][n] = 0.0;
    for (int b = n - 1; b >= 0; b--) {
        for (enum kind kind = TOUCH; kind < KINDS; kind++) {
            double sum = NONE_LN;
            for (int to = b + 1; to <= c->reach[kind][b]; to++)
                sum = add_ln(sum, (double)c->ln[kind][b][to] + c->on[kind][to]);
            c->after[kind][b] = sum;
        }
        for (enum kind before = TOUCH; before < KINDS; before++) {
            c->on[before][b] = NONE_LN;
            for (enum kind kind = TOUCH; kind < KINDS; kind++)
                c->on[before][b] =
                    add_ln(c->on[before][b], follows_ln(&c->habits, before, kind) + c->after[kind][b]);
        }
    }
}

/* Shares of all ways that go on with `kind` at border b, by how many wires they have had. */
static void counts_at(const struct thrum_levelchain *c, enum kind kind, int b, double sum, double *count)
{
    memset(count, 0, COUNTS * sizeof *count);
    if (b == 0) {
        count[0] = 1.0;
        return;
    }
    for (enum kind before = TOUCH; before < KINDS; before++) {
        double share = exp(c->until[before][b].sum + follows_ln(&c->habits, before, kind) - sum);
        for (int k = 0; k < COUNTS; k++)
            count[k] += share * c->count[before][b][k];
    }
}

/* How many wires there have been at every border, and with them the chance, times weight, of every beginning. */
static void count_wires(struct thrum_levelchain *c, double all, double weight)
{
    int n = c->job.n;
    double count[COUNTS];
    memset(c->count, 0, sizeof c->count);
    for (int b = 0; b < n; b++)
        for (enum kind kind = TOUCH; kind < KINDS; kind++) {
            double sum = ways_to(c, kind, b).sum, chance = exp(fmin(sum + c->after[kind][b] - all, 0.0));
            if (sum < 0.5 * NONE_LN)
                continue;
            counts_at(c, kind, b, sum, count);
            for (int k = 0; k < COUNTS && kind != LIFT; k++)
                c->begins[b][k] += weight * chance * count[k];
            for (int to = b + 1; to <= c->reach[kind][b]; to++) {
                double share = exp(sum + (double)c->ln[kind][b][to] - c->until[kind][to].sum);
                for (int k = 0; k < COUNTS && share > LEAST_SHARE; k++)
                    c->count[kind][to][(k + (kind != LIFT)) % COUNTS] += share * count[k];
            }
        }
}

static double sum_of_all(const struct thrum_levelchain *c)
{
    double all = NONE_LN;
    for (enum kind kind = TOUCH; kind < KINDS; kind++)
        all = add_ln(all, c->until[kind][c->job.n].sum);
    return all;
}

void thrum_levelchain_sum(struct thrum_levelchain *chain, const double *toneless, const double *ln_before,
                          int n)
{
    struct thrum_levelchain *c = chain;
    double all[THRUM_LEVELCHAIN_SHARES], total = NONE_LN;
    memset(c->begins, 0, sizeof c->begins);
    for (int i = 0; i < n; i++) {
        c->habits.toneless = toneless[i];
        go_forward(c);
        all[i] = sum_of_all(c);
        total = add_ln(total, all[i] + ln_before[i]);
    }
    for (int i = 0; i < n; i++) {
        double weight = exp(all[i] + ln_before[i] - total);
        if (weight < LEAST_SHARE)
            continue;
        c->habits.toneless = toneless[i];
        go_forward(c);
        go_back(c);
        count_wires(c, all[i], weight);
    }
}

double thrum_levelchain_begins(const struct thrum_levelchain *chain, int b)
{
    double sum = 0.0;
    for (int k = 0; k < COUNTS; k++)
        sum += chain->begins[b][k];
    return sum;
}

double thrum_levelchain_begins_as(const struct thrum_levelchain *chain, int b, int nth)
{
    return chain->begins[b][nth % COUNTS];
}
