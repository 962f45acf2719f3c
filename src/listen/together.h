/** @file together.h
 *  Several senders in one stretch of sound, each measured as if it were alone.
 *
 *  A keyed tone is heard far beside its frequency: a voice 25 Hz from another one 20 dB stronger is not heard at all.
 *  So what was found of each is taken out before the next is measured, the strongest first, and then all once more
 *  with everything else taken out, until nothing changes. Pure; no allocation.
 */
#ifndef THRUM_TOGETHER_H
#define THRUM_TOGETHER_H

#include <stddef.h>

#include "signal/strength.h"
#include "signal/touchfit.h"

/** One voice in the stretch. */
struct thrum_together {
    struct thrum_strength strength;
    struct thrum_strength_notes notes;
};

/**
 * @param[in]     fits  One per voice. Shape [n_fits], 1 to THRUM_MAX_SENDERS.
 * @param[in]     job   The stretch; from must be NULL.
 * @param[in,out] rest  Room for job->n samples; not used for a single voice and may then be NULL.
 * @param[out]    voices  Shape [n_fits]. The fits hold their last run.
 */
void thrum_together_measure(struct thrum_touchfit *const *fits, int n_fits,
                            const struct thrum_touchfit_job *job, float *rest, struct thrum_together *voices);

#endif
