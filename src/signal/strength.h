/** @file strength.h
 *  How strong one sender is in one touch: the maximum-likelihood value, its interval, and whether it is there.
 *
 *  docs/measuring.md has the mathematics. Pure; no allocation after creation; one meter belongs to one thread.
 */
#ifndef THRUM_STRENGTH_H
#define THRUM_STRENGTH_H

#include "signal/touchfit.h"
#include "thrum/reading.h"

/** What beside the strength was noticed. */
struct thrum_strength_notes {
    bool hum_on_tone;   /**< A mains harmonic within 3 Hz of a tone. */
    bool other_cadence; /**< A tone is there that does not keep the voice's cadence. */
    bool drift;         /**< More than 1 % off the voice, or moving more than 1 Hz/s. */
};

/**
 * Judge a fit.
 *
 * @param[out] strength  Filled in every case; heard = false when there were no beeps to look at.
 * @param[out] notes     May be NULL.
 */
void thrum_strength_judge(const struct thrum_touchfit_result *fit, struct thrum_strength *strength,
                          struct thrum_strength_notes *notes);

#endif
