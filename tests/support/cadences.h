/* Published cadences that fit a sender's limits (300 to 3400 Hz, on and off 40 ms to 2 s, alternating tones 20 ms and
 * longer), each with its source, and the comparison of a learned voice with the true one. */
#ifndef THRUM_TEST_CADENCES_H
#define THRUM_TEST_CADENCES_H

#include <stdbool.h>

#include "thrum/voice.h"

struct cadence {
    const char *name;   /* who sounds like this */
    const char *source; /* and who says so */
    int n_tones;
    double hz[4];
    int n_steps;
    struct thrum_voice_step step[8];
};

extern const struct cadence cadences[];
extern const int n_cadences;

struct thrum_voice cadence_voice(const struct cadence *cadence);

/*
 * Same pattern, whatever step it begins with and in whatever order its tones are listed? If so, the largest errors:
 * of a tone beyond what the clock allows is for the caller to say.
 */
bool cadence_matches(const struct thrum_voice *learned, const struct thrum_voice *truth, double *worst_hz,
                     double *worst_s);

#endif
