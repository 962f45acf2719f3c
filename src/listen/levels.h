/** @file levels.h
 *  Touches told apart by a change of the tone's level: splits a row of beeps where their strength steps.
 *
 *  Optimal partition of the row into stretches of one level each, by dynamic programming over all partitions: each
 *  stretch costs its squared deviations in dB over the scatter that noise and hand allow, plus a price per
 *  stretch. Source: B. Jackson et al., IEEE Signal Processing Letters 12(2), 2005 (optimal partitioning; from
 *  memory). Pure; no allocation.
 */
#ifndef THRUM_LEVELS_H
#define THRUM_LEVELS_H

#include <stdbool.h>

#define THRUM_LEVELS_MAX 256 /**< Beeps in one row. */

/** One beep: a level, how uncertain, and when. */
struct thrum_level {
    double from_s, to_s;
    double db;    /**< Level; a beep that is not there has the level of the noise. */
    double sd_db; /**< Of that level, by noise. */
};

/** A stretch of beeps of one level. */
struct thrum_level_span {
    int first, end; /**< Beeps [first, end). */
    double db;
    bool lift; /**< Far below both neighbours, and shorter: the probe was in the air. */
};

/** @param[out] spans  Shape [THRUM_LEVELS_MAX]. @return how many; 0 when n is 0. n at most THRUM_LEVELS_MAX. */
int thrum_levels_split(const struct thrum_level *beeps, int n, struct thrum_level_span *spans);

#endif
