#include "signal/humtake.h"

#include <math.h>
#include <stdlib.h>

#include "signal/cplx.h"
#include "thrum/units.h"

#define BLOCK_S 0.025 /* amplitudes are taken block by block, straight lines between */
#define TOP_HZ  3600.0

enum { REACH = 16 }; /* blocks on either side in the mean */

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
    h->block = (size_t)(BLOCK_S * rate_hz);
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

/* exp(j phase) at the block's first sample and the turn from sample to sample within it. */
static void phase(const struct thrum_humtake *h, double hz, double slope, size_t n, size_t at,
                  struct cplx *now, struct cplx *step)
{
    double u = ((double)at - 0.5 * (double)n) / h->rate_hz, middle = u + 0.5 * (double)h->block / h->rate_hz;
    *now = cplx_turn(2.0 * THRUM_PI * fmod(hz * u + 0.5 * slope * u * u, 1.0));
    *step = cplx_turn(2.0 * THRUM_PI * (hz + slope * middle) / h->rate_hz);
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
        struct cplx now, step, sum = {0.0, 0.0};
        phase(h, hz, slope, n, b * h->block, &now, &step);
        for (size_t i = 0; i < h->block; i++) {
            double s = (double)x[b * h->block + i];
            sum.re += s * now.re;
            sum.im -= s * now.im;
            now = cplx_mul(now, step);
        }
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
    size_t blocks = n / h->block, half = h->block / 2 + 1;
    for (size_t from = 0; from < n; from += half) {
        struct cplx now, step;
        size_t to = from + half < n ? from + half : n;
        phase(h, hz, slope, n, from, &now, &step);
        struct cplx a = amplitude_at(h, blocks, (double)from), b = amplitude_at(h, blocks, (double)to);
        struct cplx move = cplx_scale(cplx_sub(b, a), 1.0 / (double)(to - from));
        for (size_t i = from; i < to; i++) {
            x[i] -= (float)(a.re * now.re - a.im * now.im);
            a = cplx_add(a, move);
            now = cplx_mul(now, step);
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
