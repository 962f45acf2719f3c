#include "bundle/halves.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "bundle/halves_own.h"
#include "bundle/normal.h"
#include "bundle/pick_own.h"
#include "thrum/reading.h"
#include "thrum/units.h"

/* A wire held with the wrong group, or missed by the probe. */
#define WRONG            0.03
#define MISSED_BY_DB     20.0
#define MISSED_SPREAD_DB 15.0

/* How the other wires end, and what a group with the driven wire then reads: its spread, which is small where all wires
 * add to it and else comes from where in the group the driven one lies; and how far below a group without it is. A single
 * wire, the probe on it, reads over_db more than a group that holds it. */
struct ending {
    double chance, over_db, spread_db, drop_db, drop_spread_db;
};
static const struct ending GROUP[THRUM_DROPS] = {
    {0.4, 0.0, 1.4, 0.5, 1.2}, {0.3, 0.0, 4.0, 9.0, 5.0}, {0.3, 0.0, 4.0, 28.0, 12.0}};
static const struct ending SINGLE[THRUM_DROPS] = {
    {0.4, -9.0, 5.0, 2.5, 1.2}, {0.3, 6.0, 2.5, 12.0, 5.0}, {0.3, 6.0, 2.5, 32.0, 12.0}};

/* Chance that all wires hang alike, from which on groups tell nothing and are left out. */
#define ALIKE 0.5

#define EVERYWHERE_CHANCE 0.10 /* before anything is heard, as in chance.c */
#define NONE_CHANCE       0.0005

/* Levels tried for a group with the driven wire: from some dB below the strongest group to far above it. */
enum { LEVELS = 96 };
/* Touches of groups that are weighed: the latest. */
enum { MOST_GROUPS = 64 };
#define LEVEL_STEP_DB   0.75
#define LEVELS_BELOW_DB 24.0

/* --- One touch ------------------------------------------------------------------------------------------------- */

static double likelihood(const struct thrum_group_touch *t, double db, double spread_db)
{
    if (!t->heard)
        return thrum_normal_below((t->high_db - db) / spread_db);
    return thrum_normal_density(t->dbfs - db, spread_db * spread_db + t->sd_db * t->sd_db);
}

static double if_in(const struct thrum_group_touch *t, double level_db, const struct ending *ending)
{
    level_db += ending->over_db;
    return (1.0 - WRONG) * likelihood(t, level_db, ending->spread_db) +
           WRONG * likelihood(t, level_db - MISSED_BY_DB, MISSED_SPREAD_DB);
}

static double if_out(const struct thrum_group_touch *t, double level_db, const struct ending *ending)
{
    double spread_db = hypot(ending->spread_db, ending->drop_spread_db);
    level_db += ending->over_db;
    return (1.0 - WRONG) * likelihood(t, level_db - ending->drop_db, spread_db) +
           WRONG * likelihood(t, level_db, ending->spread_db);
}

/* --- All touches ----------------------------------------------------------------------------------------------- */

static bool holds(const struct thrum_group_touch *t, int wire)
{
    return wire >= t->first && wire <= t->last;
}

/* ln of the sum of exp of n numbers, without overflow. */
static double ln_sum(const double *ln, int n)
{
    double most = -(double)INFINITY, sum = 0.0;
    for (int i = 0; i < n; i++)
        most = fmax(most, ln[i]);
    for (int i = 0; i < n; i++)
        sum += exp(ln[i] - most);
    return most + log(sum);
}

/* The strongest group, or the highest limit where nothing was heard. */
static double strongest(const struct thrum_group_touch *groups, int n_groups)
{
    double heard = -(double)INFINITY, limit = heard;
    for (int k = 0; k < n_groups; k++) {
        if (groups[k].heard)
            heard = fmax(heard, groups[k].dbfs);
        limit = fmax(limit, groups[k].high_db);
    }
    return isfinite(heard) ? heard : limit;
}

/* ln likelihoods of every touch at every level. */
struct table {
    int n; /* touches */
    double in[MOST_GROUPS][LEVELS], out[MOST_GROUPS][LEVELS];
};

static void fill(const struct thrum_group_touch *groups, int t, struct table *table)
{
    double bottom = strongest(groups, table->n) - LEVELS_BELOW_DB;
    for (int k = 0; k < table->n; k++)
        for (int a = 0; a < LEVELS; a++) {
            double level_db = bottom + LEVEL_STEP_DB * a;
            const struct ending *ending = groups[k].last > groups[k].first ? &GROUP[t] : &SINGLE[t];
            table->in[k][a] = log(fmax(if_in(&groups[k], level_db, ending), 1e-300));
            table->out[k][a] = log(fmax(if_out(&groups[k], level_db, ending), 1e-300));
        }
}

/* ln likelihood of all touches for a wire; -1: for one that is in no group. */
static double weigh_wire(const struct table *table, const struct thrum_group_touch *groups, int wire)
{
    double ln[LEVELS] = {0};
    for (int k = 0; k < table->n; k++) {
        const double *row = holds(&groups[k], wire) ? table->in[k] : table->out[k];
        for (int a = 0; a < LEVELS; a++)
            ln[a] += row[a];
    }
    return ln_sum(ln, LEVELS);
}

static double weigh_everywhere(const struct table *table)
{
    double ln[LEVELS] = {0};
    for (int k = 0; k < table->n; k++)
        for (int a = 0; a < LEVELS; a++)
            ln[a] += table->in[k][a];
    return ln_sum(ln, LEVELS);
}

static bool same_groups(const struct thrum_group_touch *groups, int n_groups, int a, int b)
{
    for (int k = 0; k < n_groups; k++)
        if (holds(&groups[k], a) != holds(&groups[k], b))
            return false;
    return true;
}

static void weigh_wires(const struct table *table, const struct thrum_group_touch *groups, int n_wires,
                        double *ln_wire)
{
    for (int i = 0; i < n_wires; i++)
        ln_wire[i] =
            i > 0 && same_groups(groups, table->n, i - 1, i) ? ln_wire[i - 1] : weigh_wire(table, groups, i);
}

static void nothing_known(int n_wires, struct thrum_halves *halves)
{
    for (int i = 0; i < n_wires; i++)
        halves->wire[i] = 1.0;
    halves->everywhere = halves->none = 1.0;
    for (int t = 0; t < THRUM_DROPS; t++)
        halves->drop[t] = GROUP[t].chance;
}

/* Adds one drop, given the ln likelihoods under it on a common scale. */
static void add_drop(int t, const double *prior, int n_wires, const double *ln_wire, double ln_none,
                     double most, struct thrum_halves *halves)
{
    double chance = GROUP[t].chance;
    halves->none += chance * exp(fmin(ln_none - most, 0.0));
    for (int i = 0; i < n_wires; i++) {
        double fit = chance * exp(ln_wire[i] - most);
        halves->wire[i] += fit;
        halves->drop[t] += prior[i] * fit;
    }
}

void thrum_halves_weigh(const double *prior, int n_wires, const struct thrum_group_touch *groups,
                        int n_groups, struct thrum_halves *halves)
{
    struct table table = {.n = n_groups < MOST_GROUPS ? n_groups : MOST_GROUPS};
    double ln_wire[THRUM_DROPS][THRUM_MAX_WIRES], ln_none[THRUM_DROPS], all = 0.0;
    nothing_known(n_wires, halves);
    if (n_groups == 0)
        return;
    groups += n_groups - table.n;
    double ln_everywhere[THRUM_DROPS], most = -(double)INFINITY;
    for (int t = 0; t < THRUM_DROPS; t++) {
        fill(groups, t, &table);
        weigh_wires(&table, groups, n_wires, ln_wire[t]);
        ln_none[t] = weigh_wire(&table, groups, -1);
        ln_everywhere[t] = weigh_everywhere(&table);
        most = fmax(most, ln_everywhere[t]);
        for (int i = 0; i < n_wires; i++)
            most = fmax(most, ln_wire[t][i]);
    }
    memset(halves, 0, sizeof *halves);
    halves->everywhere = exp(ln_everywhere[0] - most);
    for (int t = 0; t < THRUM_DROPS; t++) {
        add_drop(t, prior, n_wires, ln_wire[t], ln_none[t], most, halves);
        all += halves->drop[t];
    }
    for (int t = 0; t < THRUM_DROPS; t++)
        halves->drop[t] = all > 0.0 ? halves->drop[t] / all : GROUP[t].chance;
}

/* --- What an answer would tell ----------------------------------------------------------------------------------- */

double thrum_halves_gain(double chance, const double *drop, bool group)
{
    static const double FROM_DB = -80.0, TO_DB = 20.0, STEP_DB = 0.5;
    const struct ending *endings = group ? GROUP : SINGLE;
    double gain = 0.0;
    /* what a group or a wire would read is known from those before */
    for (double db = FROM_DB; db <= TO_DB; db += STEP_DB) {
        struct thrum_group_touch seen = {.heard = true, .dbfs = db};
        double in = 0.0, out = 0.0;
        for (int t = 0; t < THRUM_DROPS; t++) {
            in += drop[t] * if_in(&seen, 0.0, &endings[t]);
            out += drop[t] * if_out(&seen, 0.0, &endings[t]);
        }
        double mean = chance * in + (1.0 - chance) * out;
        if (in > 0.0 && out > 0.0)
            gain += STEP_DB * (chance * in * log(in / mean) + (1.0 - chance) * out * log(out / mean));
    }
    return fmax(gain, 0.0);
}

/* --- Joining ------------------------------------------------------------------------------------------------------ */

static bool any_heard(const struct thrum_pick *pick, const struct thrum_group_touch *groups, int n_groups)
{
    bool heard = false;
    for (int i = 0; i < pick->n_ranked; i++)
        heard |= pick->rank[i].heard;
    for (int k = 0; k < n_groups; k++)
        heard |= groups[k].heard;
    return heard;
}

/* Every wire that may be it was touched, by itself or in a group. */
static bool all_covered(const struct thrum_pick_config *config, const struct thrum_pick *pick,
                        const struct thrum_group_touch *groups, int n_groups)
{
    for (int i = 0; i < pick->n_ranked; i++) {
        bool covered = config->excluded[pick->rank[i].wire] || pick->rank[i].touches > 0;
        for (int k = 0; k < n_groups; k++)
            covered |= holds(&groups[k], pick->rank[i].wire);
        if (!covered)
            return false;
    }
    return true;
}

/* Chances of all answers, from the single touches and the groups together; into the ranking. */
static void join_chances(const struct thrum_pick *pick, const struct thrum_halves *halves, double *chance)
{
    bool single = false;
    double sum = 0.0, all;
    for (int i = 0; i < pick->n_ranked; i++) {
        single |= pick->rank[i].heard;
        sum += pick->rank[i].chance;
    }
    /* What the wires lack to 1: everywhere, and a little for none of them. */
    double rest = single ? fmax(1.0 - sum, 0.0) : EVERYWHERE_CHANCE, none = fmin(rest, NONE_CHANCE);
    all = (rest - none) * halves->everywhere + none * halves->none;
    for (int i = 0; i < pick->n_ranked; i++) {
        int wire = pick->rank[i].wire;
        chance[wire] = pick->rank[i].chance * halves->wire[wire];
        all += chance[wire];
    }
    for (int i = 0; i < pick->n_ranked && all > 0.0; i++)
        chance[i] /= all;
}

/* The strongest of the wires touched by themselves is compared with the groups, as one of one wire; the others are
 * compared with it already. */
static int with_strongest(const struct thrum_pick *pick, const struct thrum_group_touch *groups, int n_groups,
                          struct thrum_group_touch *joined)
{
    const struct thrum_wire_rank *best = NULL;
    int n = n_groups < MOST_GROUPS - 1 ? n_groups : MOST_GROUPS - 1;
    memcpy(joined, groups + (n_groups - n), (size_t)n * sizeof *joined);
    for (int i = 0; i < pick->n_ranked; i++)
        if (pick->rank[i].heard && (!best || pick->rank[i].dbfs > best->dbfs))
            best = &pick->rank[i];
    if (!best)
        return n;
    joined[n] = (struct thrum_group_touch){.first = best->wire,
                                           .last = best->wire,
                                           .heard = true,
                                           .dbfs = best->dbfs,
                                           .sd_db = (best->high_db - best->low_db) / 3.92};
    return n + 1;
}

/* Tone was heard of groups only, all of which an excluded wire lies in: then it was that one. */
static bool only_left_out(const struct thrum_pick_config *config, const struct thrum_group_touch *groups,
                          int n_groups)
{
    int heard = 0, left_out = 0;
    for (int k = 0; k < n_groups; k++) {
        bool any = false;
        for (int i = groups[k].first; i <= groups[k].last; i++)
            any |= config->excluded[i];
        heard += groups[k].heard;
        left_out += groups[k].heard && any;
    }
    return heard > 0 && left_out == heard;
}

static void decide(const struct thrum_pick_config *config, bool heard, bool covered, struct thrum_pick *pick)
{
    if (!heard && covered) {
        pick->outcome = THRUM_NO_TONE;
        pick->wire = pick->next_touch = -1;
        pick->notes = (pick->notes | THRUM_NOTE_CHECK_SENDER) & ~(uint32_t)THRUM_NOTE_TOUCH_AGAIN;
        return;
    }
    if (pick->outcome == THRUM_EVERYWHERE && pick->rank[0].chance < config->sure)
        return;
    pick->notes &= ~(uint32_t)(THRUM_NOTE_CHECK_SENDER | THRUM_NOTE_LIFT_COMMON);
    bool sure = pick->rank[0].chance >= config->sure && pick->rank[0].heard;
    pick->outcome = sure ? THRUM_PICKED : THRUM_TOO_CLOSE;
    pick->wire = pick->rank[0].wire;
    pick->chance = pick->rank[0].chance;
    if (sure)
        pick->notes &= ~(uint32_t)(THRUM_NOTE_UNTOUCHED | THRUM_NOTE_TOUCH_AGAIN | THRUM_NOTE_STUCK);
    if (sure)
        pick->next_touch = -1;
}

void thrum_halves_join(const struct thrum_pick_config *config, const struct thrum_group_touch *groups,
                       int n_groups, struct thrum_pick *pick)
{
    struct thrum_halves halves;
    struct thrum_group_touch joined[MOST_GROUPS] = {{0}};
    double chance[THRUM_MAX_WIRES];
    if (pick->n_ranked < 1)
        return;
    for (int i = 0; i < pick->n_ranked; i++)
        chance[pick->rank[i].wire] = pick->rank[i].chance;
    int n = n_groups > 0 ? with_strongest(pick, groups, n_groups, joined) : 0;
    thrum_halves_weigh(chance, pick->n_ranked, joined, n, &halves);
    if (halves.drop[0] > ALIKE)
        return;
    for (int k = 0; k < n_groups; k++)
        if (groups[k].faults & THRUM_FAULTS_UNTRUSTED)
            pick->notes |= THRUM_NOTE_UNTRUSTED;
    if (pick->outcome == THRUM_NO_TONE && only_left_out(config, groups, n_groups)) {
        pick->notes = (pick->notes | THRUM_NOTE_LEFT_OUT) & ~(uint32_t)THRUM_NOTE_CHECK_SENDER;
        return;
    }
    if (n_groups > 0) {
        join_chances(pick, &halves, chance);
        thrum_pick_rank_again(config, chance, pick);
        decide(config, any_heard(pick, groups, n_groups), all_covered(config, pick, groups, n_groups), pick);
    }
    if (pick->outcome == THRUM_TOO_CLOSE)
        thrum_halves_next(config, &halves, groups, n_groups, pick);
}
