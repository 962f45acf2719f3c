/** @file sums.h
 *  Sums and extremes of a block of samples, in the fewest steps.
 */
#ifndef THRUM_SUMS_H
#define THRUM_SUMS_H

struct thrum_sums {
    float high, low;     /**< The largest and the smallest sample. */
    double sum, squares; /**< Of the samples, and of their squares. */
};

/** @param[in] x  Shape [n], no NaN; n > 0. Sums are taken in a fixed order: the same on every machine. */
struct thrum_sums thrum_sums_of(const float *x, int n);

#endif
