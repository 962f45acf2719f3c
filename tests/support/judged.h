/* Touches of one sender, judged: its strength, and whether it is there. */
#ifndef THRUM_TEST_JUDGED_H
#define THRUM_TEST_JUDGED_H

#include <stddef.h>
#include <stdint.h>

#include "signal/strength.h"

enum { JUDGED_RATE = 8000 };

struct judged {
    struct thrum_strength strength;
    struct thrum_strength_notes notes;
};

struct thrum_touchfit *judged_create(const struct thrum_voice *voice);

/* One touch of n samples; hum may be NULL. */
struct judged judge(struct thrum_touchfit *fit, const float *x, size_t n, const struct thrum_hum_source *hum);

/* A fit as it might come out, made by hand, judged: six even beeps and pauses. */
struct thrum_strength judged_by_hand(double evidence, double relative_variance);

/* What runs of one level in white noise came to. */
struct judged_runs {
    double sd, bias, sd_said; /* dB */
    int inside;               /* intervals that hold the truth */
    int heard;
};

/* Touches of 3 s, beeps of 250 ms, noise of 0.01 RMS, 10 lg(eta N_on) as given. */
struct judged_runs judged_runs(double eta_n_db, int n_runs, uint64_t seed);

#endif
