/** @file meddling.h
 *  Does the input meddle with the sound: level control, noise gate, noise suppression?
 *
 *  | fault | when |
 *  |---|---|
 *  | GAIN_RIDING | hum or noise rises through the pauses and is lower in the beeps; or every beep's onset overshoots and then settles |
 *  | SUPPRESSED | every beep goes on falling from its onset to its end |
 *  | GATED | what is heard in the beeps is gone at the end of every pause, and not because the beep brought it |
 *
 *  Each of these needs four beeps or more. Pure; no allocation after creation; one of it belongs to one thread.
 */
#ifndef THRUM_MEDDLING_H
#define THRUM_MEDDLING_H

#include <stdint.h>

#include "listen/breathing.h"
#include "listen/fading.h"

struct thrum_meddling_value {
    uint32_t faults;           /**< OR of enum thrum_fault: the three above. */
    struct thrum_breath floor; /**< Hum and the rest together. */
    struct thrum_breathing_value breathing;
    struct thrum_fading_value fading;
};

struct thrum_meddling;

enum thrum_status thrum_meddling_create(double rate_hz, struct thrum_meddling **meddling);
void thrum_meddling_destroy(struct thrum_meddling *meddling);

/** Look at what a fit has just been run on. @param[in] x  The samples it saw, shape [n]. */
void thrum_meddling_judge(struct thrum_meddling *meddling, const float *x, size_t n,
                          const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                          struct thrum_meddling_value *value);

#endif
