/** @file bar.h
 *  The fast bar: the strength of one tone now, half-risen 22 ms after a step.
 *
 *  The tone is turned to 0 Hz, summed in bins of about 4 ms, and the last ten bins are weighted by a Hann shape: a
 *  low-pass of about +/-50 Hz. Feed it sound whose hum has been taken out. A value; any split gives the same digits.
 */
#ifndef THRUM_BAR_H
#define THRUM_BAR_H

#include <stddef.h>

#include "signal/cplx.h"

#define THRUM_BAR_BINS  10
#define THRUM_BAR_BIN_S 0.004

struct thrum_bar {
    struct cplx turn, step, sum;
    int bin_size, in_bin;
    struct cplx bins[THRUM_BAR_BINS]; /* newest first */
    double weight[THRUM_BAR_BINS];
    double power; /**< |amplitude|^2 after the last full bin. */
};

/** @param[in] rate_hz of the samples. @param[in] tone_hz below half of it. */
struct thrum_bar thrum_bar_start(double rate_hz, double tone_hz);

/** From the next sample on, another tone. */
void thrum_bar_move(struct thrum_bar *bar, double rate_hz, double tone_hz);

/** Hear one sample. @return 1 when a bin is full and power is new, else 0. */
int thrum_bar_feed(struct thrum_bar *bar, double x);

#endif
