/** @file cplx.h
 *  Complex numbers as plain pairs: C's own multiply checks for NaN in a library call, which costs a factor ten.
 */
#ifndef THRUM_CPLX_H
#define THRUM_CPLX_H

#include <math.h>
#include <stddef.h>

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

/** Mean |a|^2 of n, n > 0. */
static inline double cplx_mean_power(const struct cplx *a, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += cplx_power(a[i]);
    return sum / (double)n;
}

/** Sum of conj(a) b over n. In two runs side by side, as one sum would wait for each addition. */
static inline struct cplx cplx_dot(const struct cplx *a, const struct cplx *b, size_t n)
{
    double straight[4] = {0.0}, crossed[4] = {0.0};
    size_t i = 0;
    for (; i + 2 <= n; i += 2) {
        straight[0] += a[i].re * b[i].re;
        straight[1] += a[i].im * b[i].im;
        straight[2] += a[i + 1].re * b[i + 1].re;
        straight[3] += a[i + 1].im * b[i + 1].im;
        crossed[0] += a[i].re * b[i].im;
        crossed[1] += a[i].im * b[i].re;
        crossed[2] += a[i + 1].re * b[i + 1].im;
        crossed[3] += a[i + 1].im * b[i + 1].re;
    }
    struct cplx sum = {straight[0] + straight[1] + straight[2] + straight[3],
                       crossed[0] - crossed[1] + crossed[2] - crossed[3]};
    return i < n ? cplx_add(sum, cplx_mul_conj(a[i], b[i])) : sum;
}

/** exp(j angle), angle in radians. */
static inline struct cplx cplx_turn(double angle)
{
    return (struct cplx){cos(angle), sin(angle)};
}

#endif
