/** @file normal.h
 *  The normal distribution and its neighbours, as the comparison needs them. All arguments finite.
 */
#ifndef THRUM_BUNDLE_NORMAL_H
#define THRUM_BUNDLE_NORMAL_H

/** Density at x of a normal distribution with mean 0 and the given variance (> 0). */
double thrum_normal_density(double x, double variance);

/** Chance that a standard normal value lies below z. */
double thrum_normal_below(double z);

/** Integral of thrum_normal_below() from minus infinity to z: the mean of what a standard normal value leaves of z, where
 * it leaves any. */
double thrum_normal_ramp(double z);

/**
 * Density at x of G + E, G normal with mean 0 and the given variance (> 0), E exponential with mean scale (> 0):
 * a level that lies above 0 by an exponential amount, measured with a normal error. For one below 0 take -x.
 */
double thrum_tail_density(double x, double variance, double scale);

/** Chance that G + E of thrum_tail_density() exceeds x; sd > 0. */
double thrum_tail_above(double x, double sd, double scale);

#endif
