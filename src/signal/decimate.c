#include "signal/decimate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "signal/kaiser.h"
#include "thrum/units.h"

enum {
    CHUNK = 4096, /* samples taken in at a time */
    BATCH = 32,   /* outputs worked out side by side... */
    FEW = 8,      /* ...and where there are fewer */
    MOST_LANES = 24
};

#define PASS_HZ        3500.0
#define ATTENUATION_DB 75.0
#define FIRST_DB       95.0  /* of two stages, so that together... */
#define SECOND_DB      77.0  /* ...they ripple no more than one */
#define NOTHING        1e-12 /* a tap below this is none: every second one of a filter that halves the rate */

/*
 * One lowpass that divides the rate. The past is kept in as many lanes as the factor, sample i in lane i % factor at
 * column i / factor: there the samples that meet one tap in neighbouring outputs lie side by side. Output k begins at
 * column k.
 */
struct stage {
    int factor;
    int half;                                /* taps run from -half to +half */
    size_t columns;                          /* of a lane that one output reaches over */
    size_t row;                              /* columns of a lane there is room for */
    size_t from[MOST_LANES], to[MOST_LANES]; /* columns of each lane where taps are */
    float *taps;                             /* [factor][columns], tap i as sample i; the rest is zero */
    float *lanes;                            /* [factor][row] */
    size_t held;                             /* samples in the lanes */
};

struct thrum_decimate {
    int factor;
    int n_stages; /* an even factor goes in two: the second halves, and half of its taps are zero */
    struct stage stage[2];
    float between[CHUNK + 1];
};

int thrum_decimate_factor(double rate_hz)
{
    return (int)(rate_hz / 8000.0);
}

static void set_taps(struct stage *s, const double *design)
{
    size_t factor = (size_t)s->factor;
    for (size_t lane = 0; lane < factor; lane++)
        s->from[lane] = s->columns;
    for (size_t i = 0; i < 2 * (size_t)s->half + 1; i++) {
        size_t lane = i % factor, column = i / factor;
        if (fabs(design[i]) < NOTHING)
            continue;
        s->taps[lane * s->columns + column] = (float)design[i];
        s->from[lane] = column < s->from[lane] ? column : s->from[lane];
        s->to[lane] = column + 1;
    }
}

/* Nothing folds into 0 to PASS_HZ. A factor of 1 lets all through. */
static enum thrum_status make_stage(struct stage *s, double rate_hz, int factor, double attenuation_db)
{
    double pass = PASS_HZ / rate_hz, stop = (rate_hz / factor - PASS_HZ) / rate_hz;
    s->factor = factor;
    s->half = factor == 1 ? 0 : thrum_kaiser_half(pass, stop, attenuation_db);
    size_t n_taps = 2 * (size_t)s->half + 1, n_lanes = (size_t)factor;
    s->columns = (n_taps + n_lanes - 1) / n_lanes;
    s->row = s->columns + CHUNK / n_lanes + BATCH + 1;
    s->taps = calloc(n_lanes * s->columns, sizeof *s->taps);
    s->lanes = calloc(n_lanes * s->row, sizeof *s->lanes);
    double *design = calloc(n_taps, sizeof *design);
    if (!s->taps || !s->lanes || !design) {
        free(design);
        return THRUM_ERR_MEM;
    }
    design[0] = 1.0;
    if (factor > 1)
        thrum_kaiser_lowpass(pass, stop, attenuation_db, s->half, design);
    set_taps(s, design);
    free(design);
    s->held = (size_t)s->half; /* silence before the first sample */
    return THRUM_OK;
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
    d->n_stages = d->factor > 2 && d->factor % 2 == 0 ? 2 : 1;
    int first = d->factor / d->n_stages;
    enum thrum_status status =
        make_stage(&d->stage[0], rate_hz, first, d->n_stages == 2 ? FIRST_DB : ATTENUATION_DB);
    if (!status && d->n_stages == 2)
        status = make_stage(&d->stage[1], rate_hz / first, 2, SECOND_DB);
    if (status) {
        thrum_decimate_destroy(d);
        return status;
    }
    *decimate = d;
    return THRUM_OK;
}

void thrum_decimate_destroy(struct thrum_decimate *decimate)
{
    if (!decimate)
        return;
    for (int i = 0; i < 2; i++) {
        free(decimate->stage[i].taps);
        free(decimate->stage[i].lanes);
    }
    free(decimate);
}

/* Outputs side by side from column `at` on, each the sum of its products in the same order. */
static inline void sum_up(const struct stage *s, size_t at, size_t width, float *out)
{
    float sum[BATCH] = {0};
    for (size_t lane = 0; lane < (size_t)s->factor; lane++)
        for (size_t i = s->from[lane]; i < s->to[lane]; i++) {
            float tap = s->taps[lane * s->columns + i];
            const float *from = s->lanes + lane * s->row + at + i;
            for (size_t k = 0; k < width; k++)
                sum[k] += tap * from[k];
        }
    memcpy(out, sum, width * sizeof *out);
}

/* The next outputs, `made` of them. Sums that reach beyond what is held are thrown away. */
THRUM_WIDE static void filter(const struct stage *s, size_t made, float *out)
{
    float some[FEW];
    size_t at = 0;
    for (; at + BATCH <= made; at += BATCH)
        sum_up(s, at, BATCH, out + at);
    for (; at < made; at += FEW) {
        size_t n = made - at < FEW ? made - at : FEW;
        sum_up(s, at, FEW, some);
        memcpy(out + at, some, n * sizeof *out);
    }
}

/* Columns of samples, each sample into its lane. With the factor known the compiler sorts eight at once. */
static inline void sort(const float *restrict samples, size_t columns, size_t factor, size_t row,
                        float *restrict lanes)
{
    for (size_t i = 0; i < columns; i++)
        for (size_t lane = 0; lane < factor; lane++)
            lanes[lane * row + i] = samples[i * factor + lane];
}

THRUM_WIDE static void sort_columns(struct stage *s, const float *samples, size_t columns)
{
    float *to = s->lanes + s->held / (size_t)s->factor;
    if (s->factor == 2)
        sort(samples, columns, 2, s->row, to);
    else if (s->factor == 3)
        sort(samples, columns, 3, s->row, to);
    else
        sort(samples, columns, (size_t)s->factor, s->row, to);
    s->held += columns * (size_t)s->factor;
}

static void take_one(struct stage *s, float sample)
{
    size_t factor = (size_t)s->factor;
    s->lanes[s->held % factor * s->row + s->held / factor] = sample;
    s->held++;
}

/* Behind what is held. */
static void take_in(struct stage *s, const float *samples, size_t n)
{
    size_t factor = (size_t)s->factor, columns;
    for (; n > 0 && s->held % factor; n--)
        take_one(s, *samples++);
    columns = n / factor;
    sort_columns(s, samples, columns);
    for (size_t i = columns * factor; i < n; i++)
        take_one(s, samples[i]);
}

/* All outputs that reach over nothing but what is held; then move the rest to the front. n up to CHUNK. */
static size_t run(struct stage *s, const float *samples, size_t n, float *out)
{
    size_t n_taps = 2 * (size_t)s->half + 1, factor = (size_t)s->factor;
    take_in(s, samples, n);
    size_t made = n_taps <= s->held ? (s->held - n_taps) / factor + 1 : 0;
    filter(s, made, out);
    s->held -= made * factor;
    for (size_t lane = 0; lane < factor && made > 0; lane++) {
        float *row = s->lanes + lane * s->row;
        memmove(row, row + made, (s->held / factor + 1) * sizeof *row);
    }
    return made;
}

size_t thrum_decimate_feed(struct thrum_decimate *decimate, const float *samples, size_t n, float *out)
{
    struct thrum_decimate *d = decimate;
    size_t made = 0;
    while (n > 0) {
        size_t take = CHUNK < n ? CHUNK : n;
        if (d->n_stages == 1)
            made += run(&d->stage[0], samples, take, out + made);
        else
            made += run(&d->stage[1], d->between, run(&d->stage[0], samples, take, d->between), out + made);
        samples += take;
        n -= take;
    }
    return made;
}

/* Input frames from a sample to the answer that is about it. */
static size_t delay(const struct thrum_decimate *d)
{
    return (size_t)d->stage[0].half + (size_t)d->stage[1].half * (size_t)d->stage[0].factor;
}

size_t thrum_decimate_tail(const struct thrum_decimate *decimate)
{
    return delay(decimate) / (size_t)decimate->factor + 1;
}

size_t thrum_decimate_finish(struct thrum_decimate *decimate, float *out)
{
    static const float silence[64] = {0};
    size_t made = 0;
    for (size_t left = delay(decimate), n; left > 0; left -= n) {
        n = left < 64 ? left : 64;
        made += thrum_decimate_feed(decimate, silence, n, out + made);
    }
    return made;
}
