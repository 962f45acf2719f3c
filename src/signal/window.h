/** @file window.h
 *  Windows for spectra, and the figures by which they are compared.
 *
 *  Pure: no I/O, no clock, no allocation.
 */
#ifndef THRUM_SIGNAL_WINDOW_H
#define THRUM_SIGNAL_WINDOW_H

#include <stdbool.h>

enum thrum_window {
    THRUM_WINDOW_HANN,           /**< Narrow and well behaved: the everyday window. */
    THRUM_WINDOW_BLACKMAN_HARRIS /**< 4-term minimum: side lobes 92 dB down, for a weak line beside strong ones. */
};

/**
 * Fill in a window with peak 1.
 *
 * @param[in]  periodic  True for spectra (one period of an n-periodic curve); false for a symmetric window.
 * @param[out] w         Shape [n].
 * @param[in]  n         At least 2; a symmetric window of 1 is not defined.
 */
void thrum_window_fill(enum thrum_window kind, bool periodic, float *w, int n);

/** Mean of the window: what a sine on a bin is multiplied by. n >= 1. */
double thrum_window_coherent_gain(const float *w, int n);

/** Equivalent noise bandwidth in bins: n sum w^2 / (sum w)^2. n >= 1. */
double thrum_window_enbw_bins(const float *w, int n);

/**
 * How much a sine loses that lies `offset` bins away from the bin it is read at: |W(offset)| / |W(0)|, 0 to 1.
 * offset 0.5 gives the scallop loss. n >= 1.
 */
double thrum_window_response(const float *w, int n, double offset_bins);

/** The same of a periodic Hann window of n, without its samples: n at least 4, the offset any that is finite. */
double thrum_window_hann_response(int n, double offset_bins);

#endif
