/** @file halves.h
 *  The search by halves: touches of groups of wires, held together and apart from the others, beside those of single
 *  wires. Pure; no allocation. The model is written up in docs/choosing.md.
 */
#ifndef THRUM_BUNDLE_HALVES_H
#define THRUM_BUNDLE_HALVES_H

#include <stdbool.h>

#include "thrum/pick.h"

/** One touch of a group, in the order of the wires' indices: first to last, both in it, 0 <= first < last; excluded wires
 *  between them are not held. For thrum_halves_weigh() also first = last: a wire by itself. */
struct thrum_group_touch {
    int first, last;
    bool heard;
    double dbfs;     /**< Strength, dBFS; ignored when not heard. */
    double sd_db;    /**< Standard error of it, >= 0; ignored when not heard. */
    double high_db;  /**< Upper limit when not heard. */
    uint32_t faults; /**< OR of enum thrum_fault. */
};

/** Wires that may be it from which on halves are asked for: with fewer, bundles whose wires hang alike lose more than the others
 *  save. */
#define THRUM_HALVES_FEWEST 10

/** How far a group without the driven wire lies below one with it: that depends on how the others end, and is learned
 *  from the round. */
#define THRUM_DROPS 3

/** What the group touches say. A value. */
struct thrum_halves {
    double wire
        [THRUM_MAX_WIRES]; /**< Likelihood of the touches if this wire is driven; the best of all answers has 1. */
    double everywhere;        /**< ... if the tone is the same on all wires. */
    double none;              /**< ... if the sender is on none of them. */
    double drop[THRUM_DROPS]; /**< Chance of each drop: alike, near, far. */
};

/**
 * Weigh the group touches.
 *
 * @param[in]  prior    Chance of each wire beforehand, 0 or more. Shape [n_wires].
 * @param[in]  groups   Shape [n_groups]; NULL allowed when 0: then every likelihood is 1.
 * @param[out] halves   Not NULL.
 */
void thrum_halves_weigh(const double *prior, int n_wires, const struct thrum_group_touch *groups,
                        int n_groups, struct thrum_halves *halves);

/** Information of one answer about which wire is driven, in nats, 0 to ln 2: a touch of wires that hold the answer with
 *  the given chance. @param[in] group  Of a group; else of a single wire. */
double thrum_halves_gain(double chance, const double *drop, bool group);

/**
 * Let the group touches change a pick that was made from the single touches: chances, ranking, contenders, outcome and
 * lead follow, and the next touch may be that of a group. A wire is picked only if it was touched by itself too.
 * Where all wires hang alike, so that groups tell nothing, the pick stays as it is. Groups whose readings are not to be
 * trusted give the pick its note.
 *
 * @param[in,out] pick  From thrum_pick_compute() for one sender.
 */
void thrum_halves_join(const struct thrum_pick_config *config, const struct thrum_group_touch *groups,
                       int n_groups, struct thrum_pick *pick);

#endif
