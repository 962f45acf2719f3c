#include "bundle/next.h"

/* Two wires that are still alike after this many touches each will not be told apart by touching. */
enum { ENOUGH_TOUCHES = 12 };

static int first_untouched(const struct thrum_placement *p, const struct thrum_pick_config *config, int last,
                           int *how_many)
{
    int first = -1;
    *how_many = 0;
    for (int i = 1; i <= p->n_wires; i++) {
        int k = (last + i) % p->n_wires;
        if (p->touches[k] > 0 || config->excluded[k])
            continue;
        first = first < 0 ? k : first;
        (*how_many)++;
    }
    return first;
}

static bool before(const struct thrum_placement *p, const struct thrum_chances *chances, int a, int b)
{
    if (b < 0 || chances->wire[a] > chances->wire[b])
        return true;
    return chances->wire[a] == chances->wire[b] && p->touches[a] < p->touches[b];
}

/* The two touched wires with most chance. */
static void lead_two(const struct thrum_placement *p, const struct thrum_pick_config *config,
                     const struct thrum_chances *chances, int *first, int *second)
{
    *first = *second = -1;
    for (int k = 0; k < p->n_wires; k++) {
        if (p->touches[k] == 0 || config->excluded[k])
            continue;
        if (before(p, chances, k, *first)) {
            *second = *first;
            *first = k;
        } else if (before(p, chances, k, *second)) {
            *second = k;
        }
    }
}

int thrum_next_touch(const struct thrum_placement *p, const struct thrum_pick_config *config,
                     const struct thrum_chances *chances, int last)
{
    int untouched, first, second;
    int fresh = first_untouched(p, config, last, &untouched);
    if (untouched > 1)
        return fresh;
    lead_two(p, config, chances, &first, &second);
    if (first < 0)
        return fresh;
    /* The last untouched wire comes last: only when the others are settled among themselves does it decide. */
    if (fresh >= 0 && chances->wire[first] >= config->sure * (1.0 - chances->wire[fresh]))
        return fresh;
    /* The leader is asked as often as its challenger: the difference is then known best. */
    int next = second < 0 || p->touches[first] <= p->touches[second] ? first : second;
    if (p->touches[next] >= ENOUGH_TOUCHES)
        return fresh;
    return next;
}
