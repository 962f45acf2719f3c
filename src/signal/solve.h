/** @file solve.h
 *  Hermitian positive definite systems by Cholesky factors, in place, no allocation.
 */
#ifndef THRUM_SOLVE_H
#define THRUM_SOLVE_H

#include <stdbool.h>

#include "signal/cplx.h"

/**
 * Factor A = L L^H; the lower triangle of a becomes L.
 * @param[in,out] a  Row-major, shape [n][stride]; only the lower triangle is read.
 * @return false when a is not positive definite (a is then of no use).
 */
bool thrum_solve_factor(struct cplx *a, int n, int stride);

/** Solve L y = b in place. */
void thrum_solve_forward(const struct cplx *l, int n, int stride, struct cplx *b);

/** Solve L^H x = y in place. */
void thrum_solve_back(const struct cplx *l, int n, int stride, struct cplx *b);

#endif
