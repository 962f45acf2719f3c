/** @file ballistics.h
 *  The exponential time weightings F and S of a sound level meter (IEC 61672-1): the steady reading of the bar.
 *
 *  They act on the SQUARED signal: after a tone stops the level falls by 4.343 / tau dB/s, 34.7 for F, 4.34 for S.
 *  A value, no memory behind it: copy it freely. Any split of a signal into calls gives the same digits.
 */
#ifndef THRUM_SIGNAL_BALLISTICS_H
#define THRUM_SIGNAL_BALLISTICS_H

#include <stddef.h>

#define THRUM_BALLISTICS_F_S 0.125 /**< Time constant of F, seconds. */
#define THRUM_BALLISTICS_S_S 1.0   /**< Time constant of S, seconds. */

struct thrum_ballistics {
    double gain;    /**< Share of the way to the input that the mean goes in one step. */
    double mean;    /**< Weighted mean square. */
    double highest; /**< Highest mean so far. */
};

/**
 * A new one, at rest.
 *
 * @param[in] rate_hz  Steps per second, > 0.
 * @param[in] tau_s    Time constant, > 0: THRUM_BALLISTICS_F_S, THRUM_BALLISTICS_S_S or any other.
 */
struct thrum_ballistics thrum_ballistics_start(double rate_hz, double tau_s);

/** Hear samples: finite, full scale = +/-1, shape [n]. */
void thrum_ballistics_feed(struct thrum_ballistics *ballistics, const float *x, size_t n);

/** One step with a mean square computed elsewhere (amplitude squared / 2 for a tone), finite and >= 0. */
void thrum_ballistics_step(struct thrum_ballistics *ballistics, double mean_square);

/** The reading: full-scale sine = 0 dBFS; THRUM_FLOOR_DBFS for silence. */
double thrum_ballistics_dbfs(const struct thrum_ballistics *ballistics);

/** The highest reading so far. */
double thrum_ballistics_highest_dbfs(const struct thrum_ballistics *ballistics);

#endif
