/* Seeded chance: the same numbers on every machine. Several streams of one seed do not disturb each other. */
#ifndef PRACTICE_DICE_H
#define PRACTICE_DICE_H

#include <stdint.h>

struct dice {
    uint64_t s[4]; /* xoshiro256++ */
};

struct dice dice_stream(uint64_t seed, uint64_t stream);
double dice_uniform(struct dice *dice);                          /* [0, 1) */
double dice_between(struct dice *dice, double low, double high); /* [low, high) */
double dice_normal(struct dice *dice);                           /* mean 0, sd 1 */
int dice_below(struct dice *dice, int n);                        /* 0 to n - 1 */

static inline uint64_t dice_turned(uint64_t x, int by)
{
    return (x << by) | (x >> (64 - by));
}

static inline uint64_t dice_bits(struct dice *dice)
{
    uint64_t *s = dice->s, result = dice_turned(s[0] + s[3], 23) + s[0], t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = dice_turned(s[3], 45);
    return result;
}

/* Nearly normal and fast: the sum of eight 16-bit uniform numbers, mean 0, sd 1, ends at 4.9 sd. */
static inline double dice_quick_normal(struct dice *dice)
{
    const uint64_t even = 0x0000FFFF0000FFFFu;
    const double mean = 8.0 * 32767.5, scale = 1.0 / 53509.91992145008; /* sqrt(8 (2^32 - 1) / 12) */
    uint64_t x = dice_bits(dice), y = dice_bits(dice);
    uint64_t sum = (x & even) + ((x >> 16) & even) + (y & even) + ((y >> 16) & even);
    return ((double)(uint32_t)((sum & 0xFFFFFFFFu) + (sum >> 32)) - mean) * scale;
}

#endif
