/** @file chance.h
 *  The chance that a wire carries the sender: posterior of "this wire is driven, the others are a population that
 *  couples to it", by numerical integration over everything unknown. The model is written up in docs/choosing.md.
 */
#ifndef THRUM_BUNDLE_CHANCE_H
#define THRUM_BUNDLE_CHANCE_H

#include "bundle/placement.h"

struct thrum_chances {
    double wire[THRUM_MAX_WIRES]; /**< That the sender drives this one; 0 for excluded wires. */
    double everywhere;            /**< That the tone is the same on all wires. */
    double none;                  /**< That the sender drives a wire that is not here. */
    double spread_db;             /**< Placement spread: posterior mean. */
    double precision;             /**< 1 / spread^2, dB^-2: posterior mean. */
};

/** At least one touch was heard. The chances add up to 1. */
void thrum_chances_compute(const struct thrum_placement *placement, const struct thrum_pick_config *config,
                           struct thrum_chances *chances);

#endif
