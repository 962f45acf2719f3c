/** @file extreme.h
 *  Is the sound cut off at its highest or lowest value?
 *
 *  Two kinds of runs there count: of equal samples, as in numbers that were limited; and of samples that are equal but for a
 *  little noise, 0.3 % of the extreme, as from an amplifier that clips before the converter. Both must be steep beside the
 *  run: a slow wave is flat at its top by itself, and a square wave all the time. The noisy kind must come back in three pieces
 *  of the sound: a hand holds no level so long.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_SIGNAL_EXTREME_H
#define THRUM_SIGNAL_EXTREME_H

#include <stdbool.h>
#include <stdint.h>

/** One extreme of a piece of sound: the highest value, or the lowest with its sign turned. Begin with value = -INFINITY. */
struct thrum_extreme {
    float value;
    uint32_t runs, samples;       /**< Of equal samples at it; samples in those. */
    uint32_t flats, flat_samples; /**< The same of noisy runs, at it or within 0.3 % of it. */
    uint32_t flat_pieces;         /**< Pieces that have any: 0 or 1 until they are joined. */
};

/** Takes in a block [n] of the piece, whose own extreme is `value`; sign is 1 for the highest, -1 for the lowest. */
void thrum_extreme_add(struct thrum_extreme *extreme, const float *x, int n, float value, float sign);

/** Joins that of another piece to all. */
void thrum_extreme_join(struct thrum_extreme *all, const struct thrum_extreme *one);

/** Of so many frames, > 0. */
bool thrum_extremes_clipped(const struct thrum_extreme *high, const struct thrum_extreme *low,
                            uint64_t frames);

/** The smallest change from one sample to the next that is one: about what the numbers are rounded to; at most 1/128. [n] */
float thrum_smallest_step(const float *x, int n);

#endif
