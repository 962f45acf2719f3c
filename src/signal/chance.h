/** @file chance.h
 *  Tails of the distributions that the presence test needs.
 */
#ifndef THRUM_CHANCE_H
#define THRUM_CHANCE_H

/** ln of the chance that a chi-square of 2 m degrees exceeds t. m >= 1, t >= 0. Closed form for even degrees. */
double thrum_chance_ln_chi2(int m, double t);

/**
 * ln of the chance that (E/m) / (N/n) exceeds what it is, E and N being exponential sums of m and n terms: the F
 * test with 2m and 2n degrees. @param[in] explained E over the estimated noise. n real, > 0.
 */
double thrum_chance_ln_f(int m, double n, double explained);

/** ln of the modified Bessel function I0, to 5e-7. @param[in] x >= 0. (Polynomials of Abramowitz and Stegun 9.8.1, 9.8.2; from
 *  memory.) */
double thrum_chance_ln_i0(double x);

#endif
