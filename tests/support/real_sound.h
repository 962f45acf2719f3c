/* Real recordings: those in the folder that THRUM_REAL_SOUND names, and those that the distribution's packages carry. A test
 * program that needs some asks first and ends with REAL_SKIPPED where they are not. */
#ifndef THRUM_TEST_REAL_SOUND_H
#define THRUM_TEST_REAL_SOUND_H

#include <stdbool.h>
#include <stddef.h>

#include "thrum/learn.h"
#include "thrum/reading.h"
#include "thrum/voice.h"

#define REAL_SKIPPED 77 /* what ctest takes for "could not run here" */

/* NULL, having said so, where the environment does not name a folder. */
const char *real_folder(void);

struct real_sound {
    float *x; /* [n * channels] */
    size_t n; /* frames */
    int channels;
    double rate_hz;
};

/* From second from_s on, length_s of it at most, all channels or the first alone. Fails the test when it cannot be read. The
 * caller frees x. */
struct real_sound real_read(const char *folder, const char *name, double from_s, double length_s,
                            bool first_only);

/* What is learned from such a stretch, of all its channels. */
struct thrum_learned real_learn(const char *folder, const char *name, double from_s, double length_s);

/* All of a sound of one channel as one touch. */
struct thrum_reading real_measure(const float *x, size_t n, double rate_hz, const struct thrum_voice *voices,
                                  int n_voices);

#endif
