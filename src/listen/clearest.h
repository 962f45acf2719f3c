/** @file clearest.h
 *  Which of the voices is clearest in a stretch of sound?
 */
#ifndef THRUM_CLEAREST_H
#define THRUM_CLEAREST_H

#include <stddef.h>

#include "signal/mains.h"
#include "signal/strength.h"

/** What it works with: one fit per voice, and the mains meter; borrowed. */
struct thrum_touch_tools {
    struct thrum_touchfit *const *fits; /**< [n_fits] */
    int n_fits;
    struct thrum_mains *mains;
};

/** The clearest voice. */
struct thrum_clearest {
    int voice; /**< Its fit's index. */
    const struct thrum_touchfit_result
        *fit; /**< NULL when there are no voices; holds until the next use of the fit. */
    struct thrum_strength strength;
    struct thrum_strength_notes notes;
};

/** Mains and other steady lines of this stretch as the fits want them. @param[out] hum shape [THRUM_HUM_SOURCES]. @return how many. */
int thrum_hum_in(struct thrum_mains *mains, const float *x, size_t n,
                 struct thrum_mains_value found[THRUM_MAINS_MAX], struct thrum_hum_source *hum);

/** Fit every voice to x [n] and keep the one with the best score. */
struct thrum_clearest thrum_clearest_in(const struct thrum_touch_tools *tools, const float *x, size_t n);

/** The same where it is enough to know of one that is heard: voices are fitted in turn, `from` first, until one is. */
struct thrum_clearest thrum_heard_in(const struct thrum_touch_tools *tools, const float *x, size_t n,
                                     int from);

#endif
