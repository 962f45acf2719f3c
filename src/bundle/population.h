/** @file population.h
 *  How the wires that are not driven lie: most in a cluster, some spread out below the driven one. Prior weights
 *  and densities only; the integration is in chance.c.
 */
#ifndef THRUM_BUNDLE_POPULATION_H
#define THRUM_BUNDLE_POPULATION_H

#include <stdbool.h>

#define THRUM_CLUSTER_SPREADS 9 /**< Values tried for the cluster's own spread. */
#define THRUM_LOOSE_SHARES    5 /**< Values tried for the share of wires outside the cluster. */

/** One value of something unknown, and its prior chance. */
struct thrum_node {
    double value;
    double chance;
};

extern const struct thrum_node thrum_cluster_spread_db[THRUM_CLUSTER_SPREADS];
extern const struct thrum_node thrum_loose_share[THRUM_LOOSE_SHARES];

/** What one wire's touches say of its level: a mean with its variance, or an upper limit. */
struct thrum_level {
    bool heard;
    double db;       /**< Mean when heard; else the level at which half of the touches would be heard. */
    double variance; /**< > 0. */
};

/** Prior density, per dB, of the driven wire's lead over the middle of the cluster; 0 for negative leads. */
double thrum_lead_density(double lead_db);

/** Likelihood of the level if the wire is driven at driven_db. */
double thrum_level_if_driven(const struct thrum_level *level, double driven_db);

/** ... if it lies in a cluster around middle_db with the given spread, no limit above. */
double thrum_level_in_cluster(const struct thrum_level *level, double middle_db, double spread_db);

/** ... if it lies anywhere below driven_db. */
double thrum_level_loose(const struct thrum_level *level, double driven_db);

/** ... if it lies below a cluster around middle_db, by any amount. */
double thrum_level_under(const struct thrum_level *level, double middle_db);

#endif
