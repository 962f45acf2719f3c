/** @file cplx.h
 *  Complex numbers as plain pairs: C's own multiply checks for NaN in a library call, which costs a factor ten.
 */
#ifndef THRUM_CPLX_H
#define THRUM_CPLX_H

#include <math.h>

struct cplx {
    double re, im;
};

static inline struct cplx cplx_add(struct cplx a, struct cplx b)
{
    return (struct cplx){a.re + b.re, a.im + b.im};
}

static inline struct cplx cplx_sub(struct cplx a, struct cplx b)
{
    return (struct cplx){a.re - b.re, a.im - b.im};
}

static inline struct cplx cplx_mul(struct cplx a, struct cplx b)
{
    return (struct cplx){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/** conj(a) b */
static inline struct cplx cplx_mul_conj(struct cplx a, struct cplx b)
{
    return (struct cplx){a.re * b.re + a.im * b.im, a.re * b.im - a.im * b.re};
}

static inline struct cplx cplx_scale(struct cplx a, double s)
{
    return (struct cplx){a.re * s, a.im * s};
}

/** |a|^2 */
static inline double cplx_power(struct cplx a)
{
    return a.re * a.re + a.im * a.im;
}

/** exp(j angle), angle in radians. */
static inline struct cplx cplx_turn(double angle)
{
    return (struct cplx){cos(angle), sin(angle)};
}

#endif
