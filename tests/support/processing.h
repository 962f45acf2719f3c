/* What sound inputs do to sound unasked: level control, noise gate, noise suppression. For tests; independent of src/. */
#ifndef THRUM_TEST_PROCESSING_H
#define THRUM_TEST_PROCESSING_H

#include <stddef.h>

/* A feedforward level control: the gain follows the level of all the sound, one pole up and one pole down. */
struct level_control {
    double attack_s, release_s; /* time constants of the level that it sees */
    double ratio;               /* so many dB in are one dB out above the knee */
    double most_gain_db;
    double target_dbfs; /* where the output tends to; full-scale sine = 0 */
};

void apply_level_control(float *x, size_t n, double rate_hz, const struct level_control *control);

/* A gate: opens within attack_s above open_dbfs, stays open for hold_s, then closes to floor_db within release_s. */
struct noise_gate {
    double open_dbfs, hold_s, attack_s, release_s, floor_db;
};

void apply_noise_gate(float *x, size_t n, double rate_hz, const struct noise_gate *gate);

/* Short-time spectral subtraction: 32 ms frames, half overlapping; every bin's noise is followed with a time constant and
 * taken off, down to floor_db. */
struct suppressor {
    double noise_s;  /* how fast what stays becomes noise */
    double over_db;  /* so much more than the noise is taken off */
    double floor_db; /* below 0 */
};

void apply_suppressor(float *x, size_t n, double rate_hz, const struct suppressor *suppressor);

#endif
