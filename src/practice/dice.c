#include "practice/dice.h"

#include <math.h> /* only sqrt, which is exact everywhere */

#include "practice/exact.h"

static uint64_t mixed(uint64_t *state) /* splitmix64 */
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

struct dice dice_stream(uint64_t seed, uint64_t stream)
{
    struct dice dice;
    uint64_t state = seed;
    state = mixed(&state) + stream * 0xD1342543DE82EF95u;
    for (int i = 0; i < 4; i++)
        dice.s[i] = mixed(&state);
    return dice;
}

double dice_uniform(struct dice *dice)
{
    return (double)(dice_bits(dice) >> 11) * 0x1p-53;
}

double dice_between(struct dice *dice, double low, double high)
{
    return low + (high - low) * dice_uniform(dice);
}

double dice_normal(struct dice *dice)
{
    double radius = sqrt(-2.0 * exact_log(1.0 - dice_uniform(dice)));
    double cosine, sine;
    exact_cos_sin(dice_uniform(dice), &cosine, &sine);
    return radius * cosine;
}

int dice_below(struct dice *dice, int n)
{
    return (int)(dice_uniform(dice) * n);
}
