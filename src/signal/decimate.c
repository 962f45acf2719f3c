#include "signal/decimate.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "signal/kaiser.h"
#include "thrum/units.h"

enum { LANES = 16, CHUNK = 4096 };

#define PASS_HZ        3500.0
#define ATTENUATION_DB 75.0

struct thrum_decimate {
    int factor;
    int half;    /* taps run from -half to +half */
    size_t span; /* taps rounded up to whole lanes; the rest is zero */
    float *taps; /* [span] */
    float *past; /* [span + CHUNK]: the newest samples, oldest first */
    size_t held; /* samples in past */
    size_t next; /* where in past the next output's first tap lies */
};

int thrum_decimate_factor(double rate_hz)
{
    return (int)(rate_hz / 8000.0);
}

enum thrum_status thrum_decimate_create(double rate_hz, struct thrum_decimate **decimate)
{
    *decimate = NULL;
    if (!(rate_hz >= THRUM_RATE_MIN_HZ && rate_hz <= THRUM_RATE_MAX_HZ))
        return THRUM_ERR_ARG;
    struct thrum_decimate *d = calloc(1, sizeof *d);
    if (!d)
        return THRUM_ERR_MEM;
    d->factor = thrum_decimate_factor(rate_hz);
    double pass = PASS_HZ / rate_hz, stop = (rate_hz / d->factor - PASS_HZ) / rate_hz;
    d->half = d->factor == 1 ? 0 : thrum_kaiser_half(pass, stop, ATTENUATION_DB);
    size_t n_taps = 2 * (size_t)d->half + 1;
    d->span = (n_taps + LANES - 1) / LANES * LANES;
    d->taps = calloc(d->span, sizeof *d->taps);
    d->past = calloc(d->span + CHUNK, sizeof *d->past);
    double *design = calloc(n_taps, sizeof *design);
    if (!d->taps || !d->past || !design) {
        free(design);
        thrum_decimate_destroy(d);
        return THRUM_ERR_MEM;
    }
    design[0] = 1.0;
    if (d->factor > 1)
        thrum_kaiser_lowpass(pass, stop, ATTENUATION_DB, d->half, design);
    for (size_t i = 0; i < n_taps; i++)
        d->taps[i] = (float)design[i];
    free(design);
    d->held = (size_t)d->half; /* silence before the first sample */
    *decimate = d;
    return THRUM_OK;
}

void thrum_decimate_destroy(struct thrum_decimate *decimate)
{
    if (!decimate)
        return;
    free(decimate->taps);
    free(decimate->past);
    free(decimate);
}

/* Sum of products in a fixed order: LANES running sums, added up in pairs. */
static inline float dot(const float *a, const float *b, size_t n)
{
    float sum[LANES] = {0};
    for (size_t i = 0; i < n; i += LANES)
        for (size_t k = 0; k < LANES; k++)
            sum[k] += a[i + k] * b[i + k];
    for (size_t k = 0; k < 8; k++)
        sum[k] += sum[k + 8];
    for (size_t k = 0; k < 4; k++)
        sum[k] += sum[k + 4];
    return (sum[0] + sum[2]) + (sum[1] + sum[3]);
}

/* The next outputs, `made` of them. past has zeros or younger samples behind what is held; their taps are zero. */
THRUM_WIDE static void filter(const struct thrum_decimate *d, size_t made, float *out)
{
    const float *from = d->past + d->next;
    for (size_t i = 0; i < made; i++)
        out[i] = dot(from + i * (size_t)d->factor, d->taps, d->span);
}

/* All outputs whose taps lie in what is held; then move the rest to the front. */
static size_t drain(struct thrum_decimate *d, float *out)
{
    size_t n_taps = 2 * (size_t)d->half + 1, step = (size_t)d->factor;
    size_t made = d->next + n_taps <= d->held ? (d->held - d->next - n_taps) / step + 1 : 0;
    if (d->factor == 1)
        memcpy(out, d->past + d->next, made * sizeof *out);
    else
        filter(d, made, out);
    d->next += made * step;
    size_t drop = d->next < d->held ? d->next : d->held;
    memmove(d->past, d->past + drop, (d->held - drop) * sizeof *d->past);
    d->held -= drop;
    d->next -= drop;
    return made;
}

size_t thrum_decimate_feed(struct thrum_decimate *decimate, const float *samples, size_t n, float *out)
{
    struct thrum_decimate *d = decimate;
    size_t made = 0;
    while (n > 0) {
        size_t take = CHUNK - LANES < n ? CHUNK - LANES : n;
        size_t room = d->span + CHUNK - LANES - d->held;
        take = take < room ? take : room;
        memcpy(d->past + d->held, samples, take * sizeof *samples);
        d->held += take;
        samples += take;
        n -= take;
        made += drain(d, out + made);
    }
    return made;
}

size_t thrum_decimate_tail(const struct thrum_decimate *decimate)
{
    return (size_t)(decimate->half / decimate->factor) + 1;
}

size_t thrum_decimate_finish(struct thrum_decimate *decimate, float *out)
{
    static const float silence[LANES] = {0};
    size_t made = 0;
    for (int left = decimate->half; left > 0; left -= LANES)
        made += thrum_decimate_feed(decimate, silence, left < LANES ? (size_t)left : LANES, out + made);
    return made;
}
