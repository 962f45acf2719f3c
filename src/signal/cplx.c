#include "signal/cplx.h"

#include "base/wide.h"
#include "thrum/units.h"

enum { LANES = 4 };

THRUM_WIDE struct cplx thrum_cplx_dot(const struct cplx *a, const struct cplx *b, size_t n)
{
    double re[LANES] = {0}, im[LANES] = {0};
    size_t m = 0;
    for (; m + LANES <= n; m += LANES)
        for (size_t k = 0; k < LANES; k++) {
            re[k] += a[m + k].re * b[m + k].re + a[m + k].im * b[m + k].im;
            im[k] += a[m + k].re * b[m + k].im - a[m + k].im * b[m + k].re;
        }
    for (; m < n; m++) {
        struct cplx one = cplx_mul_conj(a[m], b[m]);
        re[0] += one.re;
        im[0] += one.im;
    }
    return (struct cplx){(re[0] + re[2]) + (re[1] + re[3]), (im[0] + im[2]) + (im[1] + im[3])};
}

THRUM_WIDE void thrum_cplx_multiply(const struct cplx *a, const struct cplx *b, size_t n, struct cplx *out)
{
    for (size_t m = 0; m < n; m++)
        out[m] = cplx_mul(a[m], b[m]);
}

THRUM_WIDE void thrum_cplx_take_off(struct cplx a, const struct cplx *v, size_t n, struct cplx *out)
{
    for (size_t m = 0; m < n; m++)
        out[m] = cplx_sub(out[m], cplx_mul(a, v[m]));
}

THRUM_WIDE void thrum_cplx_turns(struct thrum_turning turning, size_t n, struct cplx *out)
{
    double dt = 1.0 / turning.rate_hz, slope = turning.slope_hz_per_s, hz = turning.hz;
    struct cplx now[LANES], step[LANES], bend = cplx_turn(2.0 * THRUM_PI * slope * LANES * LANES * dt * dt);
    for (int k = 0; k < LANES; k++) { /* each lane goes LANES samples at a time */
        double u = turning.from_s + k * dt, long_dt = LANES * dt;
        now[k] = cplx_turn(2.0 * THRUM_PI * fmod(hz * u + 0.5 * slope * u * u, 1.0));
        step[k] = cplx_turn(2.0 * THRUM_PI * ((hz + slope * u) * long_dt + 0.5 * slope * long_dt * long_dt));
    }
    size_t m = 0;
    for (; m + LANES <= n; m += LANES)
        for (int k = 0; k < LANES; k++) {
            out[m + (size_t)k] = now[k];
            now[k] = cplx_mul(now[k], step[k]);
            step[k] = cplx_mul(step[k], bend);
        }
    for (int k = 0; m < n; m++, k++)
        out[m] = now[k];
}
