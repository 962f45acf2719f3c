/** @file spectrum.h
 *  The discrete Fourier transform of a real signal, and back. The only door to the transform library.
 *
 *  Convention: X[k] = sum over n of x[n] exp(-j 2 pi k n / N), no scaling, bins 0 to N/2. A sine of amplitude a
 *  that falls on a bin has |X| = a N / 2 there; through a window it is a N / 2 times the window's coherent gain.
 *  Parseval: sum x^2 = (|X[0]|^2 + |X[N/2]|^2 + 2 sum of the others) / N.
 *
 *  Pure: no I/O, no clock, no locks, no allocation after creation. One spectrum belongs to one thread at a time.
 */
#ifndef THRUM_SIGNAL_SPECTRUM_H
#define THRUM_SIGNAL_SPECTRUM_H

#include "thrum/status.h"

#define THRUM_SPECTRUM_MIN 4
#define THRUM_SPECTRUM_MAX (1 << 22)

/** One complex number of a spectrum. */
struct thrum_bin {
    float re;
    float im;
};

struct thrum_spectrum;

/** The smallest size that thrum_spectrum_create() takes and that is at least n; 0 if there is none. */
int thrum_spectrum_good_size(int n);

/**
 * Make a transform of n real samples.
 *
 * @param[in]  n         Even, no prime factor above 5, THRUM_SPECTRUM_MIN to THRUM_SPECTRUM_MAX.
 * @param[out] spectrum  Owned by the caller, or NULL on error. Free with thrum_spectrum_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  n is not such a number; thrum_spectrum_good_size() gives the next that is.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_spectrum_create(int n, struct thrum_spectrum **spectrum);

/** Free it. NULL is allowed. */
void thrum_spectrum_destroy(struct thrum_spectrum *spectrum);

/** Samples per transform. */
int thrum_spectrum_size(const struct thrum_spectrum *spectrum);

/**
 * Transform. Cannot fail. A NaN or infinite sample makes every bin NaN.
 *
 * @param[in]  x     Shape [n]. Not changed.
 * @param[out] bins  Shape [n / 2 + 1].
 */
void thrum_spectrum_forward(struct thrum_spectrum *spectrum, const float *x, struct thrum_bin *bins);

/**
 * The way back: x[n] = 1/N sum of X[k] exp(+j 2 pi k n / N), the bins above N/2 being the mirror image. The
 * imaginary parts of bins 0 and N/2 are taken as 0.
 *
 * @param[in]  bins  Shape [n / 2 + 1].
 * @param[out] x     Shape [n].
 */
void thrum_spectrum_inverse(struct thrum_spectrum *spectrum, const struct thrum_bin *bins, float *x);

#endif
