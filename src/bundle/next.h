/** @file next.h
 *  Which wire to touch next.
 */
#ifndef THRUM_BUNDLE_NEXT_H
#define THRUM_BUNDLE_NEXT_H

#include "bundle/chance.h"

/**
 * The touch that settles most: a contender again, or a wire not yet touched.
 *
 * @param[in] last  Wire of the last touch, -1 if none; untouched wires are taken in order after it.
 * @return Its index, or -1 if no touch is worth it.
 */
int thrum_next_touch(const struct thrum_placement *placement, const struct thrum_pick_config *config,
                     const struct thrum_chances *chances, int last);

#endif
