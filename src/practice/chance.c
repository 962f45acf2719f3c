#include "practice/chance.h"

#include <math.h> /* only sqrt, which is exact everywhere */

#include "practice/exact.h"

static uint64_t mixed(uint64_t *state) /* splitmix64 */
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

struct chance chance_stream(uint64_t seed, uint64_t stream)
{
    struct chance chance;
    uint64_t state = seed;
    state = mixed(&state) + stream * 0xD1342543DE82EF95u;
    for (int i = 0; i < 4; i++)
        chance.s[i] = mixed(&state);
    return chance;
}

double chance_uniform(struct chance *chance)
{
    return (double)(chance_bits(chance) >> 11) * 0x1p-53;
}

double chance_between(struct chance *chance, double low, double high)
{
    return low + (high - low) * chance_uniform(chance);
}

double chance_normal(struct chance *chance)
{
    double radius = sqrt(-2.0 * exact_log(1.0 - chance_uniform(chance)));
    double cosine, sine;
    exact_cos_sin(chance_uniform(chance), &cosine, &sine);
    return radius * cosine;
}

int chance_below(struct chance *chance, int n)
{
    return (int)(chance_uniform(chance) * n);
}
