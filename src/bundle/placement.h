/** @file placement.h
 *  What the touches say of each wire's level: its mean and variance for a given placement spread, and how well
 *  that spread fits the repeats. A slow trend over the round is found from the repeats and taken out here.
 */
#ifndef THRUM_BUNDLE_PLACEMENT_H
#define THRUM_BUNDLE_PLACEMENT_H

#include "thrum/pick.h"
#include "thrum/units.h"
#include <stdbool.h>

/** Touches of one round, sorted out. A value. */
struct thrum_placement {
    int n_wires;
    int touches[THRUM_MAX_WIRES];     /**< Made, heard or not. */
    int heard[THRUM_MAX_WIRES];       /**< Of those, heard. */
    double limit_db[THRUM_MAX_WIRES]; /**< Lowest upper limit of the touches not heard; +infinity if none. */
    bool apart
        [THRUM_MAX_WIRES]; /**< Excluded, and stronger than every wire that may be it: no neighbour of the
                                      driven wire, so not counted among the others. */
    int n;                 /**< Readings below: heard touches and limits that bear on a heard wire. */
    int wire[THRUM_MAX_READINGS];
    double db[THRUM_MAX_READINGS]; /**< Trend taken out. */
    /** Of the reading alone, dB^2; uncertainty of the trend included. */
    double variance[THRUM_MAX_READINGS];
    bool trend_revealed;     /**< The repeats show a trend. */
    double trend_db_per_min; /**< The trend taken out; 0 if none is revealed. */
    double prior_db;         /**< Starting value of the placement spread. */
    double prior_weight;     /**< What it is worth, in repeats. */
};

/** Level of every wire, given the placement spread. */
struct thrum_levels {
    double mean_db[THRUM_MAX_WIRES]; /**< Valid where heard > 0. */
    double variance[THRUM_MAX_WIRES];
    double ln_fit; /**< ln likelihood of the scatter of repeats about their wire's mean. */
};

/** Sort the touches out. They have been looked over: indices and numbers are in range. */
void thrum_placement_collect(struct thrum_placement *placement, const struct thrum_pick_config *config,
                             int n_wires, const struct thrum_touch *touches, int n_touches);

/** Levels for a placement spread of spread_db > 0. */
void thrum_placement_levels(const struct thrum_placement *placement, double spread_db,
                            struct thrum_levels *levels);

/** Readings beyond the first of their wire. */
int thrum_placement_repeats(const struct thrum_placement *placement);

/** ln of the prior density of ln spread, up to a constant: scaled inverse chi-square of the variance,
 *  with less of the far end than that has. */
double thrum_placement_ln_prior(const struct thrum_placement *placement, double spread_db);

#endif
