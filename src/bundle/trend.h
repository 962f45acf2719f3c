/** @file trend.h
 *  A slow trend of all strengths over the round (a sagging sender, a creeping gain), found from repeated touches.
 */
#ifndef THRUM_BUNDLE_TREND_H
#define THRUM_BUNDLE_TREND_H

#include <stdbool.h>

/** What is known of the trend: two explanations (hardly any, or a real one), weighed by the repeats. */
struct thrum_trend {
    bool revealed;     /**< A real trend is at least ten times as likely as none. */
    double db_per_min; /**< Mean of the real explanation if revealed, else 0. */
    double variance;   /**< Uncertainty about db_per_min, (dB/min)^2. */
};

/**
 * Fit it.
 *
 * @param[in] n         Readings.
 * @param[in] wire      Wire of each. [n]
 * @param[in] db        Strength of each. [n]
 * @param[in] variance  Of each reading alone, dB^2. [n]
 * @param[in] minutes   When. [n]
 * @param[in] prior_db, prior_weight  Starting value of the placement spread and what it is worth.
 */
struct thrum_trend thrum_trend_fit(int n, const int *wire, const double *db, const double *variance,
                                   const double *minutes, double prior_db, double prior_weight);

#endif
