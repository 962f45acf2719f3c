#include "signal/baseband.h"

#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "signal/kaiser.h"
#include "thrum/units.h"

enum { LANES = 8 };

#define TRANSITION_HZ  50.0
#define ATTENUATION_DB 70.0
#define PART_S         4.0

enum thrum_status thrum_baseband_create(double rate_hz, double centre_hz, double pass_hz,
                                        struct thrum_baseband **baseband)
{
    struct thrum_baseband *b = calloc(1, sizeof *b);
    *baseband = NULL;
    if (!b)
        return THRUM_ERR_MEM;
    b->rate_hz = rate_hz;
    b->pass_hz = pass_hz;
    b->stop_hz = pass_hz + TRANSITION_HZ;
    b->half = thrum_kaiser_half(b->pass_hz / rate_hz, b->stop_hz / rate_hz, ATTENUATION_DB);
    b->step = (int)(rate_hz / (b->pass_hz + b->stop_hz));
    b->step_hz = rate_hz / b->step;
    b->part_s = PART_S;
    size_t n_taps = 2 * (size_t)b->half + 1;
    b->taps = calloc(n_taps, sizeof *b->taps);
    b->turned_re = calloc(n_taps, sizeof *b->turned_re);
    b->turned_im = calloc(n_taps, sizeof *b->turned_im);
    if (!b->taps || !b->turned_re || !b->turned_im) {
        thrum_baseband_destroy(b);
        return THRUM_ERR_MEM;
    }
    thrum_kaiser_lowpass(b->pass_hz / rate_hz, b->stop_hz / rate_hz, ATTENUATION_DB, b->half, b->taps);
    for (size_t i = 0; i < n_taps; i++)
        b->colour += b->taps[i] * b->taps[i] * b->step;
    thrum_baseband_move(b, centre_hz);
    *baseband = b;
    return THRUM_OK;
}

void thrum_baseband_move(struct thrum_baseband *baseband, double centre_hz)
{
    struct thrum_baseband *b = baseband;
    b->centre_hz = centre_hz;
    for (int k = 0; k <= b->half; k++) {
        struct cplx turn = cplx_turn(2.0 * THRUM_PI * centre_hz * k / b->rate_hz);
        int after = b->half + k, before = b->half - k;
        b->turned_re[after] = turn.re * 2.0 * b->taps[after];
        b->turned_im[after] = turn.im * 2.0 * b->taps[after];
        b->turned_re[before] = b->turned_re[after];
        b->turned_im[before] = -b->turned_im[after];
    }
}

void thrum_baseband_destroy(struct thrum_baseband *baseband)
{
    if (!baseband)
        return;
    free(baseband->taps);
    free(baseband->turned_re);
    free(baseband->turned_im);
    free(baseband);
}

size_t thrum_baseband_first(const struct thrum_baseband *baseband)
{
    return ((size_t)baseband->half + (size_t)baseband->step - 1) / (size_t)baseband->step;
}

size_t thrum_baseband_count(const struct thrum_baseband *baseband, size_t n)
{
    size_t half = (size_t)baseband->half, step = (size_t)baseband->step,
           first = thrum_baseband_first(baseband);
    if (n < first * step + half + 1)
        return 0;
    return (n - 1 - half) / step - first + 1;
}

/* Four at once, said outright: left to itself gcc takes these loops apart at twice the cost. */
typedef double four __attribute__((vector_size(4 * sizeof(double))));
typedef float four_floats __attribute__((vector_size(4 * sizeof(float))));

static inline double add_up(const four *sum)
{
    four s = sum[0] + sum[1];
    return (s[0] + s[2]) + (s[1] + s[3]);
}

/* Sum of the turned taps times x, in a fixed order: LANES running sums of either part. */
static inline struct cplx dot(const struct thrum_baseband *b, const float *x, size_t n)
{
    four re[LANES / 4] = {{0.0}}, im[LANES / 4] = {{0.0}};
    size_t i = 0;
    for (; i + LANES <= n; i += LANES)
        for (size_t k = 0; k < LANES / 4; k++) {
            four_floats at;
            four a, c;
            memcpy(&at, x + i + 4 * k, sizeof at);
            memcpy(&a, b->turned_re + i + 4 * k, sizeof a);
            memcpy(&c, b->turned_im + i + 4 * k, sizeof c);
            four wide = __builtin_convertvector(at, four);
            re[k] += a * wide;
            im[k] += c * wide;
        }
    for (; i < n; i++) {
        re[0][0] += b->turned_re[i] * (double)x[i];
        im[0][0] += b->turned_im[i] * (double)x[i];
    }
    return (struct cplx){add_up(re), add_up(im)};
}

THRUM_WIDE void thrum_baseband_run(const struct thrum_baseband *baseband, const float *x, size_t n,
                                   struct cplx *z)
{
    const struct thrum_baseband *b = baseband;
    size_t count = thrum_baseband_count(b, n), first = thrum_baseband_first(b), step = (size_t)b->step;
    size_t n_taps = 2 * (size_t)b->half + 1;
    double turn = -2.0 * THRUM_PI * b->centre_hz / b->rate_hz;
    struct cplx now = cplx_turn(fmod(turn * (double)(first * step), 2.0 * THRUM_PI)),
                next = cplx_turn(fmod(turn * (double)step, 2.0 * THRUM_PI));
    for (size_t m = 0; m < count; m++) {
        /* from[i] meets tap k = half - i; the taps are conjugate symmetric */
        const float *from = x + (first + m) * step - b->half;
        struct cplx sum = dot(b, from, n_taps);
        z[m] = cplx_mul((struct cplx){sum.re, -sum.im}, now);
        now = cplx_mul(now, next);
    }
}

void thrum_baseband_step_response(const struct thrum_baseband *baseband, double offset_hz,
                                  struct cplx *response)
{
    double d = 2.0 * THRUM_PI * offset_hz / baseband->rate_hz;
    response[0] = (struct cplx){0.0, 0.0};
    struct cplx now = cplx_turn(d * baseband->half), step = cplx_turn(-d);
    for (size_t i = 0; i < 2 * (size_t)baseband->half + 1; i++) {
        response[i + 1] = cplx_add(response[i], cplx_scale(now, baseband->taps[i]));
        now = cplx_mul(now, step);
    }
}

enum {
    FOLDS = 3
}; /* places that come to lie on one another in the baseband: side by side, or each turn would wait */

double thrum_baseband_noise(const struct thrum_baseband *baseband, double offset_hz)
{
    const struct thrum_baseband *b = baseband;
    struct cplx now[FOLDS], turn[FOLDS];
    double gain[FOLDS], density = 0.0;
    for (int i = 0; i < FOLDS; i++) {
        double hz = offset_hz + (i - 1) * b->step_hz;
        turn[i] = cplx_turn(2.0 * THRUM_PI * hz / b->rate_hz);
        now[i] = (struct cplx){1.0, 0.0};
        gain[i] = b->taps[b->half];
    }
    for (int k = 1; k <= b->half; k++)
        for (int i = 0; i < FOLDS; i++) {
            now[i] = cplx_mul(now[i], turn[i]);
            gain[i] += 2.0 * b->taps[b->half + k] * now[i].re;
        }
    for (int i = 0; i < FOLDS; i++)
        density += gain[i] * gain[i];
    return density;
}

struct cplx thrum_baseband_step_at(const struct thrum_baseband *baseband, const struct cplx *response,
                                   double u)
{
    double at = u + baseband->half + 1;
    int last = 2 * baseband->half + 1;
    if (at <= 0.0)
        return response[0];
    if (at >= last)
        return response[last];
    int i = (int)at;
    double f = at - i;
    return cplx_add(cplx_scale(response[i], 1.0 - f), cplx_scale(response[i + 1], f));
}
