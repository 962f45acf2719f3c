#include "signal/humtake.h"

#include <math.h>
#include <stdlib.h>

#include "signal/cplx.h"
#include "thrum/units.h"

#define BLOCK_S 0.025 /* amplitudes are taken block by block, straight lines between */
#define TOP_HZ  3600.0

enum {
    REACH = 16, /* blocks on either side in the mean */
    LANES = 8   /* turns that run side by side: one alone would wait for itself */
};

/* LANES neighbouring samples' turns, moved on together. */
struct lanes {
    double re[LANES], im[LANES];
    struct cplx step; /* over LANES samples */
};

struct thrum_humtake {
    double rate_hz;
    size_t n_max, block;
    struct cplx *raw;  /* [blocks] mean of each block, turned back */
    struct cplx *mean; /* [blocks] the same, smoothed */
    double weight[REACH + 1];
};

enum thrum_status thrum_humtake_create(double rate_hz, size_t n_max, struct thrum_humtake **take)
{
    *take = NULL;
    struct thrum_humtake *h = calloc(1, sizeof *h);
    if (!h)
        return THRUM_ERR_MEM;
    h->rate_hz = rate_hz;
    h->n_max = n_max;
    h->block = (size_t)(BLOCK_S * rate_hz) / LANES * LANES;
    h->raw = calloc(n_max / h->block + 2, sizeof *h->raw);
    h->mean = calloc(n_max / h->block + 2, sizeof *h->mean);
    if (!h->raw || !h->mean) {
        thrum_humtake_destroy(h);
        return THRUM_ERR_MEM;
    }
    for (int i = 0; i <= REACH; i++)
        h->weight[i] = 0.5 + 0.5 * cos(THRUM_PI * i / (REACH + 1));
    *take = h;
    return THRUM_OK;
}

void thrum_humtake_destroy(struct thrum_humtake *take)
{
    if (!take)
        return;
    free(take->raw);
    free(take->mean);
    free(take);
}

/* exp(j phase) of the samples from `at` on; the frequency is that of half a block later. */
static struct lanes turns_from(const struct thrum_humtake *h, double hz, double slope, size_t n, size_t at)
{
    double u = ((double)at - 0.5 * (double)n) / h->rate_hz, middle = u + 0.5 * (double)h->block / h->rate_hz;
    struct cplx now = cplx_turn(2.0 * THRUM_PI * fmod(hz * u + 0.5 * slope * u * u, 1.0));
    struct cplx step = cplx_turn(2.0 * THRUM_PI * (hz + slope * middle) / h->rate_hz);
    struct lanes lanes = {.step = {1.0, 0.0}};
    for (int k = 0; k < LANES; k++) {
        lanes.re[k] = now.re;
        lanes.im[k] = now.im;
        now = cplx_mul(now, step);
        lanes.step = cplx_mul(lanes.step, step);
    }
    return lanes;
}

static void move_on(struct lanes *lanes)
{
    struct cplx step = lanes->step;
    for (int k = 0; k < LANES; k++) {
        double re = lanes->re[k] * step.re - lanes->im[k] * step.im;
        lanes->im[k] = lanes->re[k] * step.im + lanes->im[k] * step.re;
        lanes->re[k] = re;
    }
}

/* A weighted straight line through the blocks around b, read at b: at the sound's ends a mean would lag. */
static struct cplx straight_line(const struct thrum_humtake *h, size_t blocks, size_t b)
{
    struct cplx y = {0.0, 0.0}, dy = {0.0, 0.0};
    double s0 = 0.0, s1 = 0.0, s2 = 0.0;
    for (int d = -REACH; d <= REACH; d++) {
        long at = (long)b + d;
        if (at < 0 || at >= (long)blocks)
            continue;
        double w = h->weight[d < 0 ? -d : d];
        y = cplx_add(y, cplx_scale(h->raw[at], w));
        dy = cplx_add(dy, cplx_scale(h->raw[at], w * d));
        s0 += w;
        s1 += w * d;
        s2 += w * d * d;
    }
    double det = s0 * s2 - s1 * s1;
    if (!(det > 1e-9))
        return cplx_scale(y, 1.0 / s0);
    return cplx_scale(cplx_sub(cplx_scale(y, s2), cplx_scale(dy, s1)), 1.0 / det);
}

static void measure(struct thrum_humtake *h, const float *x, size_t n, double hz, double slope)
{
    size_t blocks = n / h->block;
    for (size_t b = 0; b < blocks; b++) {
        struct lanes lanes = turns_from(h, hz, slope, n, b * h->block);
        double re[LANES] = {0}, im[LANES] = {0};
        struct cplx sum = {0.0, 0.0};
        for (size_t i = b * h->block; i < (b + 1) * h->block; i += LANES) {
            for (int k = 0; k < LANES; k++) {
                re[k] += (double)x[i + (size_t)k] * lanes.re[k];
                im[k] -= (double)x[i + (size_t)k] * lanes.im[k];
            }
            move_on(&lanes);
        }
        for (int k = 0; k < LANES; k++)
            sum = cplx_add(sum, (struct cplx){re[k], im[k]});
        h->raw[b] = cplx_scale(sum, 2.0 / (double)h->block);
    }
    for (size_t b = 0; b < blocks; b++)
        h->mean[b] = straight_line(h, blocks, b);
}

static struct cplx amplitude_at(const struct thrum_humtake *h, size_t blocks, double at)
{
    double place = at / (double)h->block - 0.5;
    if (place <= 0.0)
        return h->mean[0];
    if (place >= (double)(blocks - 1))
        return h->mean[blocks - 1];
    size_t b = (size_t)place;
    double f = place - (double)b;
    return cplx_add(cplx_scale(h->mean[b], 1.0 - f), cplx_scale(h->mean[b + 1], f));
}

static void subtract(struct thrum_humtake *h, float *x, size_t n, double hz, double slope)
{
    size_t blocks = n / h->block;
    for (size_t from = 0; from < n; from += h->block) {
        size_t to = from + h->block < n ? from + h->block : n, half = h->block / 2;
        struct lanes lanes = turns_from(h, hz, slope, n, from);
        /* amplitudes are known in the middle of blocks: a straight line to it, and one from it */
        struct cplx a = amplitude_at(h, blocks, (double)from),
                    b = amplitude_at(h, blocks, (double)(from + half)),
                    c = amplitude_at(h, blocks, (double)(from + h->block));
        for (size_t i = from; i < to; i += LANES) {
            double along = (double)(i - from) / (double)half - 1.0;
            struct cplx to_go = along < 0.0 ? cplx_sub(b, a) : cplx_sub(c, b),
                        at = cplx_add(b, cplx_scale(to_go, along));
            double more = 1.0 / (double)half;
            for (size_t k = 0; k < LANES && i + k < to; k++) {
                double re = at.re + to_go.re * more * (double)k, im = at.im + to_go.im * more * (double)k;
                x[i + k] -= (float)(re * lanes.re[k] - im * lanes.im[k]);
            }
            move_on(&lanes);
        }
    }
}

void thrum_humtake_run(struct thrum_humtake *take, const float *heard, float *x, size_t n,
                       const struct thrum_hum_source *hum, int n_hum)
{
    n = n < take->n_max ? n : take->n_max;
    if (n / take->block < 1)
        return;
    for (int i = 0; i < n_hum; i++)
        for (int h = 1; h * hum[i].hz < TOP_HZ; h++) {
            measure(take, heard, n, h * hum[i].hz, h * hum[i].slope_hz_per_s);
            subtract(take, x, n, h * hum[i].hz, h * hum[i].slope_hz_per_s);
        }
}
