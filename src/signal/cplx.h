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

/** exp(j angle), angle in radians. */
static inline struct cplx cplx_turn(double angle)
{
    return (struct cplx){cos(angle), sin(angle)};
}

/** Sum of conj(a) b over n, in a fixed order. @param[in] a, b shape [n]; n = 0 gives 0. */
struct cplx thrum_cplx_dot(const struct cplx *a, const struct cplx *b, size_t n);

/** out = a b, one by one. All of shape [n]; out may be a or b. */
void thrum_cplx_multiply(const struct cplx *a, const struct cplx *b, size_t n, struct cplx *out);

/** out = out - a v, one by one. v and out of shape [n], apart from each other. */
void thrum_cplx_take_off(struct cplx a, const struct cplx *v, size_t n, struct cplx *out);

/** Running sums: sums[m] of the first m. @param[in] a shape [n]. @param[out] sums shape [n + 1], apart from a. */
void thrum_cplx_add_up(const struct cplx *a, size_t n, struct cplx *sums);

/** A phasor whose frequency may move: exp(j 2 pi (hz u + slope u^2 / 2)) at u = from_s, and then at rate_hz. */
struct thrum_turning {
    double rate_hz; /**< > 0. */
    double from_s, hz, slope_hz_per_s;
};

/** Its first n values, by recurrence: exact to about n 1e-16. @param[out] out shape [n]. */
void thrum_cplx_turns(struct thrum_turning turning, size_t n, struct cplx *out);

#endif
