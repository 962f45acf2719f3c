#include "bundle/next.h"

/* Two wires that are still alike after this many touches each will not be told apart by touching. */
enum { ENOUGH_TOUCHES = 12 };
/* What a touch of the leader takes off: so much of the chance that the tone is the same everywhere, and of all doubt when
 * the leader has been touched once. Found by trying on rounds with known truth. */
#define AGAINST_EVEN 2.0
#define AGAINST_ALL  2.0
/* Below it the tone the same everywhere is out of the question. */
#define EVEN_IS_OUT 0.1
enum { WAIT_REPEATS = 4 };

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

static int repeats(const struct thrum_placement *p)
{
    int n = 0;
    for (int k = 0; k < p->n_wires; k++)
        n += p->touches[k] > 1 ? p->touches[k] - 1 : 0;
    return n;
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
    double others = second < 0 ? 0.0 : chances->wire[second];
    double doubt = 1.0 - chances->wire[first];
    if (fresh >= 0) {
        /* Only when all wires are touched can the tone be found the same everywhere; so this one waits for a few
         * repeats of the others while that is likely. */
        if (chances->everywhere < EVEN_IS_OUT || repeats(p) >= WAIT_REPEATS ||
            chances->wire[first] >= config->sure * (chances->wire[first] + others))
            return fresh;
        doubt -= chances->wire[fresh];
    }
    /* One more touch of the leader speaks against the tone being the same everywhere, and, as long as it has been
     * touched little, against all others at once; one of the challenger speaks against that one, and settles it. */
    double k = p->touches[first];
    bool challenge = others > AGAINST_EVEN * chances->everywhere + AGAINST_ALL * doubt / (k * (k + 1.0));
    int next = challenge ? second : first;
    if (p->touches[next] >= ENOUGH_TOUCHES)
        next = challenge ? first : second;
    return next >= 0 && p->touches[next] < ENOUGH_TOUCHES ? next : fresh;
}
