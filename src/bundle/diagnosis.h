/** @file diagnosis.h
 *  What the touches of a round look like as a whole, beside the pick: patterns that a technician can do something about.
 */
#ifndef THRUM_BUNDLE_DIAGNOSIS_H
#define THRUM_BUNDLE_DIAGNOSIS_H

#include "bundle/placement.h"
#include "thrum/pick.h"
#include <stdint.h>

/**
 * @param[in] placement  The touches, sorted out.
 * @param[in] untouched  Wires that may be it and have not been touched: what an excluded one carries is no news yet.
 * @param[in] pick       Outcome and ranking as decided.
 * @return OR of CHECK_SENDER (unless a wire left out has the tone), LIFT_COMMON, TWO_EQUAL, RETURN, SAGGING and LEFT_OUT of enum thrum_pick_note.
 */
uint32_t thrum_diagnosis(const struct thrum_placement *placement, int untouched,
                         const struct thrum_pick *pick);

#endif
