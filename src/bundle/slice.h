/** @file slice.h
 *  All touches seen for one value of the placement spread: levels of the wires, and the points at which the levels of
 *  the driven wire and of the cluster of others are tried.
 */
#ifndef THRUM_BUNDLE_SLICE_H
#define THRUM_BUNDLE_SLICE_H

#include "bundle/normal.h"
#include "bundle/placement.h"
#include "bundle/population.h"
#include <stdbool.h>

#define THRUM_DRIVEN_NODES 40 /**< Levels of the driven wire. */
#define THRUM_MIDDLE_NODES 12 /**< Middles of the cluster. */

/** All of one placement spread. */
struct thrum_slice {
    int n;                     /**< wires touched, those apart left out */
    int wire[THRUM_MAX_WIRES]; /**< their numbers */
    struct thrum_level level[THRUM_MAX_WIRES];
    double outside
        [THRUM_MAX_WIRES]; /**< likelihood outside the cluster, driven wire at the strongest: for a look */
    double scale[THRUM_MAX_WIRES]; /**< common factor on the likelihoods of a wire, keeps products in range */
    double ln_scale;               /**< ln of all factors taken out */
    int n_driven;
    double driven_db[THRUM_DRIVEN_NODES];
    double driven_width[THRUM_DRIVEN_NODES];
    double if_driven[THRUM_DRIVEN_NODES][THRUM_MAX_WIRES];
    double loose[THRUM_DRIVEN_NODES][THRUM_MAX_WIRES];
    int n_middle;
    double middle_db[THRUM_MIDDLE_NODES];
    double middle_width;
    int n_share; /**< shares of loose wires that matter here */
    struct thrum_node share[THRUM_LOOSE_SHARES];
    double alone, pair; /**< the driven wire is the only one so strong; a given other one is as strong */
    bool mostly_heard;
    double median_db;
    struct thrum_normal_table normal; /**< the same for all */
};

/** How well a cluster of each spread fits all wires, the driven one counted among the others: a quick look, by which
 * hopeless populations and placement spreads are left out. */
struct thrum_look {
    double middle_db[THRUM_CLUSTER_SPREADS], width[THRUM_CLUSTER_SPREADS];
    double ln_fit[THRUM_CLUSTER_SPREADS][THRUM_LOOSE_SHARES];
    double best;
};

/** Take the levels for a placement spread. At least one wire was heard. */
void thrum_slice_levels(struct thrum_slice *slice, const struct thrum_placement *placement, double spread_db);

/** Set the factors that keep products over all wires in range: every wire over its likelihood in the best look. */
void thrum_slice_scale(struct thrum_slice *slice, const struct thrum_look *look);

/** Set the levels of the driven wire and their likelihoods. @param[in] untouched  It may be a wire without a touch. */
void thrum_slice_driven(struct thrum_slice *slice, bool untouched);

/** Middle of a cluster of the given spread, and its standard error. */
void thrum_slice_find_middle(const struct thrum_slice *slice, double spread_db, double *middle_db,
                             double *width);

/** Set the middles to integrate over. */
void thrum_slice_middles(struct thrum_slice *slice, double middle_db, double width);

/** Look all clusters over. */
void thrum_slice_look(const struct thrum_slice *slice, struct thrum_look *look);

#endif
