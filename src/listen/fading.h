/** @file fading.h
 *  Do the beeps keep their level from onset to end?
 *
 *  A sender's beep is as loud at its end as at its onset. A level control lets the onset overshoot and pulls it down within
 *  its attack time; noise suppression takes a steady tone for noise and lets it fade as long as it lasts. Each beep's
 *  beginning is compared with its end as its mirror image, so that the filters in between cancel, and with its middle.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_FADING_H
#define THRUM_FADING_H

#include "signal/touchfit.h"

struct thrum_fading_value {
    int n;           /**< Whole beeps loud enough to compare; the rest is 0 when there are none. */
    double db;       /**< Onset over end. */
    double sd_db;    /**< Standard error of it. */
    double late_db;  /**< Of that, what falls after the settling of a level control: middle over end. */
    double share;    /**< Of the beeps, in how many the onset is louder. */
    double least_db; /**< The smallest fall of any beep. */
};

/** @param[in] fit  After its run. @param[in] result  What that run returned. */
void thrum_fading_measure(const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                          struct thrum_fading_value *value);

#endif
