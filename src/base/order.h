/** @file order.h
 *  Values in order, without allocation: what medians and quantiles are read from.
 */
#ifndef THRUM_ORDER_H
#define THRUM_ORDER_H

/** Puts x in rising order, in place. @param[in,out] x  Shape [n], no NaN. n <= 1: unchanged. Any thread. */
void thrum_order(double *x, int n);

#endif
