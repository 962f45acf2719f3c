/* How exactly a tone in a recording could be measured at all. */
#ifndef THRUM_TEST_NOISE_FLOOR_H
#define THRUM_TEST_NOISE_FLOOR_H

#include <stddef.h>

/* Power per hertz about hz in x (full-scale sine = 1), lines passed over: the median of the bins within 40 Hz of a Hann
 * window's spectrum, over ln 2, as the power of noise in a bin is exponential. */
double noise_density(const float *x, size_t n, double rate_hz, double hz);

/* Cramer-Rao limit for the amplitude of a tone of this level that is on for on_s, dB: 8.686 / sqrt(eta N_on) (Rife and
 * Boorstyn 1974, IEEE Trans. Inf. Theory 20(5); Kay 1993, ch. 3: both from memory). */
double cramer_rao_db(double dbfs, double on_s, double density);

#endif
