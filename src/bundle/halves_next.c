/* Which wires to hold next: a group, or one of them. */
#include <math.h>
#include <stddef.h>

#include "bundle/halves_own.h"
#include "thrum/units.h"

enum { GAINS = 32 };             /* chances at which the gain is worked out */
#define PER_WIRE     1e-4        /* of the gain: of two groups that tell alike, the smaller */
#define REPEATS_FROM 0.5         /* share of the doubt that untouched wires must hold to be touched first */
#define NEARLY       (2.0 / 3.0) /* shared by two groups, of the wires of both */
enum { ENOUGH_TOUCHES = 12 };

struct question {
    int first, last; /* alike for a single wire */
    double gain;
};

/* Chances by wire. */
static void spread(const struct thrum_pick *pick, double *chance, int *touches)
{
    for (int i = 0; i < pick->n_ranked; i++) {
        chance[pick->rank[i].wire] = pick->rank[i].chance;
        touches[pick->rank[i].wire] = pick->rank[i].touches;
    }
}

static bool touched_together(const struct thrum_group_touch *groups, int n_groups, int wire)
{
    for (int k = 0; k < n_groups; k++)
        if (wire >= groups[k].first && wire <= groups[k].last)
            return true;
    return false;
}

static int how_many_may(const struct thrum_pick_config *config, int n)
{
    int may = 0;
    for (int i = 0; i < n; i++)
        may += !config->excluded[i];
    return may;
}

/* Groups are compared with each other: until every wire that may be it was in one, the next is the first half or the rest of
 * them. */
static bool first_halves(const struct thrum_pick_config *config, int n,
                         const struct thrum_group_touch *groups, int n_groups, struct question *next)
{
    int half = (how_many_may(config, n) + 1) / 2, held = 0;
    for (int i = 0; i < n && held < half && n_groups <= 2; i++) {
        bool together = touched_together(groups, n_groups, i);
        if (together && held > 0 && !config->excluded[i])
            break;
        if (together || config->excluded[i])
            continue;
        next->first = held == 0 ? i : next->first;
        next->last = i;
        held++;
    }
    return held > 1;
}

/* Nearly the same once more tells little: what was wrong with it may be so again. */
static bool asked_before(const struct thrum_group_touch *groups, int n_groups, int first, int last)
{
    for (int k = 0; k < n_groups; k++) {
        int from = groups[k].first > first ? groups[k].first : first;
        int to = groups[k].last < last ? groups[k].last : last;
        int shared = to - from + 1, all = last - first + groups[k].last - groups[k].first + 2 - shared;
        if (shared > 0 && shared > NEARLY * all)
            return true;
    }
    return false;
}

/* The group of at most half of the wires that may be it which tells most; of wires that were not touched by themselves, as one
 * that was is known better than by a group. */
static struct question best_group(const struct thrum_pick_config *config, const double *chance,
                                  const int *touches, int n, const struct thrum_halves *halves,
                                  const struct thrum_group_touch *groups, int n_groups)
{
    double gain[GAINS + 1];
    struct question best = {0, 0, 0.0};
    int may = how_many_may(config, n);
    for (int i = 0; i <= GAINS; i++)
        gain[i] = thrum_halves_gain((double)i / GAINS, halves->drop, true);
    for (int first = 0; first < n; first++) {
        double held = chance[first];
        int count = 1;
        if (config->excluded[first] || touches[first] > 0)
            continue;
        for (int last = first + 1; last < n && count < may / 2; last++) {
            if (config->excluded[last])
                continue;
            if (touches[last] > 0)
                break;
            held += chance[last];
            count++;
            double place = fmin(held, 1.0) * GAINS;
            int below = place < GAINS ? (int)place : GAINS - 1;
            double here =
                gain[below] + (place - below) * (gain[below + 1] - gain[below]) - PER_WIRE * count / may;
            if (here > best.gain && !asked_before(groups, n_groups, first, last))
                best = (struct question){first, last, here};
        }
    }
    return best;
}

/* The likeliest wire that was not touched by itself. */
static struct question best_single(const double *chance, const int *touches, int n, const double *drop)
{
    struct question best = {-1, -1, 0.0};
    for (int i = 0; i < n; i++)
        if (touches[i] == 0 && chance[i] > 0.0 && (best.first < 0 || chance[i] > chance[best.first]))
            best.first = best.last = i;
    if (best.first >= 0)
        best.gain = thrum_halves_gain(fmin(chance[best.first], 1.0), drop, false);
    return best;
}

/* Of the two likeliest wires the one touched less; -1 where that is enough, or would not help. */
static int repeat_of(const struct thrum_pick *pick)
{
    const struct thrum_wire_rank *first = &pick->rank[0], *second = &pick->rank[1];
    const struct thrum_wire_rank *less = second->touches < first->touches ? second : first;
    return less->touches > 0 && less->touches < ENOUGH_TOUCHES ? less->wire : -1;
}

static void ask(struct question q, struct thrum_pick *pick)
{
    pick->next_touch = q.first;
    pick->next_last = q.last;
    pick->notes |= THRUM_NOTE_TOUCH_AGAIN;
    pick->notes &= ~(uint32_t)THRUM_NOTE_STUCK;
}

void thrum_halves_next(const struct thrum_pick_config *config, const struct thrum_halves *halves,
                       const struct thrum_group_touch *groups, int n_groups, struct thrum_pick *pick)
{
    double chance[THRUM_MAX_WIRES], untouched = 0.0;
    int touches[THRUM_MAX_WIRES], n = pick->n_ranked, may = how_many_may(config, n);
    struct question next = {-1, -1, 0.0};
    if (may < THRUM_HALVES_FEWEST)
        return;
    spread(pick, chance, touches);
    if (first_halves(config, n, groups, n_groups, &next)) {
        ask(next, pick);
        return;
    }
    int again = repeat_of(pick);
    if (n_groups >=
        2 + 2.0 * log2(may)) { /* they told what they can: the wires one by one, as the pick has it */
        if (pick->next_touch < 0 && again >= 0)
            ask((struct question){again, again, 0.0}, pick);
        return;
    }
    for (int i = 0; i < n; i++)
        untouched += touches[i] == 0 ? chance[i] : 0.0;
    struct question group = best_group(config, chance, touches, n, halves, groups, n_groups);
    struct question single = best_single(chance, touches, n, halves->drop);
    double leader = pick->rank[0].touches > 0 ? pick->rank[0].chance : 0.0;
    if (again >= 0 && untouched < REPEATS_FROM * (1.0 - leader))
        ask((struct question){again, again, 0.0}, pick);
    else if (group.gain > single.gain)
        ask(group, pick);
    else if (single.first >= 0)
        ask(single, pick);
}
