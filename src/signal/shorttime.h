/** @file shorttime.h
 *  Short-time power spectra of a stretch of sound: how loud each bin is, hop by hop.
 *
 *  Hann windows; the power of a bin is scaled so that a sine of amplitude a on a bin reads a^2. Frame t is centred
 *  on sample size / 2 + t hop: no window reaches beyond the sound. Pure; no allocation after creation.
 */
#ifndef THRUM_SHORTTIME_H
#define THRUM_SHORTTIME_H

#include <stddef.h>

#include "signal/spectrum.h"
#include "thrum/status.h"

struct thrum_shorttime {
    double rate_hz;
    int size, hop; /**< Samples per window, and from frame to frame. */
    int bins;      /**< Bins kept, from 0 Hz up. */
    double bin_hz;
    int max_frames, frames;
    float *power;           /**< [frames][bins] */
    float *window;          /* [size] */
    float *block;           /* [size] */
    struct thrum_bin *half; /* [size / 2 + 1] */
    struct thrum_spectrum *spectrum;
};

/** @param[in] longest_s  Most sound looked at. @retval THRUM_OK, THRUM_ERR_MEM, THRUM_ERR_ARG. */
enum thrum_status thrum_shorttime_create(double rate_hz, double window_s, double hop_s, double top_hz,
                                         double longest_s, struct thrum_shorttime **shorttime);
void thrum_shorttime_destroy(struct thrum_shorttime *shorttime);

/** @param[in] x  Finite samples, shape [n]. No frames when n is less than a window. */
void thrum_shorttime_run(struct thrum_shorttime *shorttime, const float *x, size_t n);

/** Time of frame t, seconds from the first sample. */
double thrum_shorttime_at_s(const struct thrum_shorttime *shorttime, double t);

/** Power at bin k of frame t, the two bins beside it added: the same wherever in the bin a sine lies, a^2. */
double thrum_shorttime_line(const struct thrum_shorttime *shorttime, int t, int k);

#endif
