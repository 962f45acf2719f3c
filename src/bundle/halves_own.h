/** @file halves_own.h
 *  What the parts of the search by halves share; nobody else includes it.
 */
#ifndef THRUM_BUNDLE_HALVES_OWN_H
#define THRUM_BUNDLE_HALVES_OWN_H

#include "bundle/halves.h"

/** Set the next touch of a pick that is too close: what tells most of a group, a wire not touched yet, and one of the two
 *  that lead. Where groups told what they can, the touch that the pick names already stays. */
void thrum_halves_next(const struct thrum_pick_config *config, const struct thrum_halves *halves,
                       const struct thrum_group_touch *groups, int n_groups, struct thrum_pick *pick);

#endif
