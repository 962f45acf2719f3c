/** @file sounding.h
 *  Does a keyed tone sound just now? Told by its power in short windows, against that of its pauses.
 *
 *  What is steady, hum or noise, counts as pause; so does a tone that goes on for more than half a second. Pure.
 */
#ifndef THRUM_SOUNDING_H
#define THRUM_SOUNDING_H

#include <stdbool.h>
#include <stddef.h>

#include "signal/cplx.h"

/** One tone. Windows should be 4 to 10 ms long. */
struct thrum_sounding {
    struct cplx turn, step, sum;
    size_t n;        /**< Samples in this window so far. */
    double pause_db; /**< About the fifth part of all windows is quieter than this. */
    bool begun;
    bool on; /**< It sounded in the last window. */
};

/** @param[in] hz, rate_hz  Of the tone and of the samples, hz below half the rate. */
struct thrum_sounding thrum_sounding_begin(double hz, double rate_hz);

/** More samples of the present window. @param[in] x shape [n], finite. */
void thrum_sounding_feed(struct thrum_sounding *sounding, const float *x, size_t n);

/** The window is over; an empty one changes nothing. */
void thrum_sounding_end_window(struct thrum_sounding *sounding);

#endif
