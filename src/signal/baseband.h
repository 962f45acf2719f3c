/** @file baseband.h
 *  The neighbourhood of one tone, moved to 0 Hz and down to a low rate.
 *
 *  z[m] = 2 sum_k h[k] x[mD - k] exp(-j w0 (mD - k)): a cosine of amplitude a at w0 becomes a complex constant of
 *  magnitude a. h is a Kaiser low-pass, symmetric, so z[m] belongs to analysis sample m D. Pure; no allocation
 *  after creation.
 */
#ifndef THRUM_BASEBAND_H
#define THRUM_BASEBAND_H

#include <stddef.h>

#include "signal/cplx.h"
#include "thrum/status.h"

struct thrum_baseband {
    double rate_hz; /**< Of the analysis samples. */
    double centre_hz;
    double pass_hz; /**< Flat to here on either side. */
    double stop_hz; /**< 70 dB down from here. */
    int step;       /**< D: analysis samples per baseband sample. */
    double step_hz; /**< Baseband rate. */
    int half;       /**< Taps run from -half to +half. */
    double part_s;  /**< About so much is fitted at once (humlines.h): 4 s, or what is set here. */
    double colour;  /**< Variance of z over that of white noise of the density at 0 Hz: sum h^2 D, below 1. */
    double *taps;   /**< [2 half + 1], real. */
    double *turned_re, *turned_im; /**< [2 half + 1] each: 2 h[k] exp(j w0 k). */
};

/** @retval THRUM_OK, THRUM_ERR_MEM. pass_hz > 0; the transition is 50 Hz wide. */
enum thrum_status thrum_baseband_create(double rate_hz, double centre_hz, double pass_hz,
                                        struct thrum_baseband **baseband);
void thrum_baseband_destroy(struct thrum_baseband *baseband);

/** From the next run on, around another centre. */
void thrum_baseband_move(struct thrum_baseband *baseband, double centre_hz);

/** First and number of baseband samples whose taps lie wholly in n analysis samples. */
size_t thrum_baseband_first(const struct thrum_baseband *baseband);
size_t thrum_baseband_count(const struct thrum_baseband *baseband, size_t n);

/** @param[in] x shape [n]. @param[out] z shape [thrum_baseband_count(n)]; z[0] is at index thrum_baseband_first(). */
void thrum_baseband_run(const struct thrum_baseband *baseband, const float *x, size_t n, struct cplx *z);

/**
 * Step response for a tone beside the centre: sum over taps k <= u of h[k] exp(-j d k), u = -half .. half.
 * @param[in]  offset_hz  d as a frequency.
 * @param[out] response   Shape [2 half + 2]; response[0] = 0 belongs to u = -half - 1.
 */
void thrum_baseband_step_response(const struct thrum_baseband *baseband, double offset_hz,
                                  struct cplx *response);

/** Density of white noise in z, so far from the centre, over that at the centre: what is folded in counts too. */
double thrum_baseband_noise(const struct thrum_baseband *baseband, double offset_hz);

/** The response at a real-valued u, straight lines between. */
struct cplx thrum_baseband_step_at(const struct thrum_baseband *baseband, const struct cplx *response,
                                   double u);

#endif
