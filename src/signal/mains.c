#include "signal/mains.h"

#include <stdlib.h>
#include <string.h>

#include "signal/comb.h"

#define LONG_FRAME_S  0.4
#define SHORT_FRAME_S 0.2
#define LONG_FROM_S   1.6 /* from here on the long frames are used */

struct thrum_mains {
    double rate_hz;
    struct thrum_comb *longer;
    struct thrum_comb *shorter;
    const struct thrum_comb *last; /* the one asked last, or NULL */
};

struct thrum_mains_tracker {
    double rate_hz;
    struct thrum_comb *comb;
    float *fifo; /* [frame] */
    int held, frames_since;
    struct thrum_mains_value now[THRUM_MAINS_MAX];
};

static int rate_ok(double rate_hz)
{
    return rate_hz >= 8000.0 && rate_hz <= 16000.0;
}

enum thrum_status thrum_mains_create(double rate_hz, struct thrum_mains **mains)
{
    *mains = NULL;
    if (!rate_ok(rate_hz))
        return THRUM_ERR_ARG;
    struct thrum_mains *m = calloc(1, sizeof *m);
    if (!m)
        return THRUM_ERR_MEM;
    m->rate_hz = rate_hz;
    int longs = (int)(2.0 * THRUM_MAINS_MEASURE_S / LONG_FRAME_S),
        shorts = (int)(2.0 * LONG_FROM_S / SHORT_FRAME_S);
    enum thrum_status status = thrum_comb_create(rate_hz, LONG_FRAME_S, longs, &m->longer);
    if (!status)
        status = thrum_comb_create(rate_hz, SHORT_FRAME_S, shorts, &m->shorter);
    if (status)
        goto fail;
    *mains = m;
    return THRUM_OK;
fail:
    thrum_mains_destroy(m);
    return status;
}

void thrum_mains_destroy(struct thrum_mains *mains)
{
    if (!mains)
        return;
    thrum_comb_destroy(mains->longer);
    thrum_comb_destroy(mains->shorter);
    free(mains);
}

void thrum_mains_avoid(struct thrum_mains *mains, const double *tones_hz, const double *beep_s, int n)
{
    thrum_comb_avoid(mains->longer, tones_hz, beep_s, n);
    thrum_comb_avoid(mains->shorter, tones_hz, beep_s, n);
}

void thrum_mains_measure(struct thrum_mains *mains, const float *x, size_t n,
                         struct thrum_mains_value out[THRUM_MAINS_MAX])
{
    struct thrum_comb *comb = (double)n >= LONG_FROM_S * mains->rate_hz ? mains->longer : mains->shorter;
    size_t frame = (size_t)thrum_comb_frame(comb), hop = frame / 2;
    size_t frames = n < frame ? 0 : 1 + (n - frame) / hop;
    if (frames > (size_t)thrum_comb_max_frames(comb))
        frames = (size_t)thrum_comb_max_frames(comb);
    thrum_comb_clear(comb);
    for (size_t t = 0; t < frames; t++)
        thrum_comb_push(comb, x + n - frame - (frames - 1 - t) * hop);
    thrum_comb_estimate(comb, out);
    mains->last = comb;
}

int thrum_mains_others(const struct thrum_mains *mains, double hz[THRUM_MAINS_OTHERS])
{
    return mains->last ? thrum_comb_others(mains->last, hz, THRUM_MAINS_OTHERS) : 0;
}

enum thrum_status thrum_mains_tracker_create(double rate_hz, struct thrum_mains_tracker **tracker)
{
    *tracker = NULL;
    if (!rate_ok(rate_hz))
        return THRUM_ERR_ARG;
    struct thrum_mains_tracker *t = calloc(1, sizeof *t);
    if (!t)
        return THRUM_ERR_MEM;
    t->rate_hz = rate_hz;
    enum thrum_status status = thrum_comb_create(
        rate_hz, LONG_FRAME_S, (int)(2.0 * THRUM_MAINS_TRACK_S / LONG_FRAME_S) - 1, &t->comb);
    if (status)
        goto fail;
    status = THRUM_ERR_MEM;
    t->fifo = calloc((size_t)thrum_comb_frame(t->comb), sizeof *t->fifo);
    if (!t->fifo)
        goto fail;
    thrum_mains_tracker_reset(t);
    *tracker = t;
    return THRUM_OK;
fail:
    thrum_mains_tracker_destroy(t);
    return status;
}

void thrum_mains_tracker_destroy(struct thrum_mains_tracker *tracker)
{
    if (!tracker)
        return;
    thrum_comb_destroy(tracker->comb);
    free(tracker->fifo);
    free(tracker);
}

void thrum_mains_tracker_avoid(struct thrum_mains_tracker *tracker, const double *tones_hz, int n)
{
    thrum_comb_avoid(tracker->comb, tones_hz, NULL, n);
}

void thrum_mains_tracker_reset(struct thrum_mains_tracker *tracker)
{
    thrum_comb_clear(tracker->comb);
    tracker->held = 0;
    tracker->frames_since = 0;
    thrum_comb_estimate(tracker->comb, tracker->now); /* no frames: nothing found */
}

/* Carries the frequency from the middle of the frames to their end. */
static void renew(struct thrum_mains_tracker *tracker, int frames)
{
    int frame = thrum_comb_frame(tracker->comb);
    double half_s = 0.5 * frame * (0.5 * (frames - 1) + 1.0) / tracker->rate_hz;
    thrum_comb_estimate(tracker->comb, tracker->now);
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        tracker->now[i].hz += half_s * tracker->now[i].slope_hz_per_s;
}

void thrum_mains_tracker_feed(struct thrum_mains_tracker *tracker, const float *x, size_t n)
{
    int frame = thrum_comb_frame(tracker->comb);
    while (n > 0) {
        size_t take = (size_t)(frame - tracker->held);
        if (take > n)
            take = n;
        memcpy(tracker->fifo + tracker->held, x, take * sizeof *x);
        tracker->held += (int)take;
        x += take;
        n -= take;
        if (tracker->held < frame)
            return;
        thrum_comb_push(tracker->comb, tracker->fifo);
        memmove(tracker->fifo, tracker->fifo + frame / 2, (size_t)(frame / 2) * sizeof *x);
        tracker->held = frame / 2;
        if (++tracker->frames_since >= (int)(2.0 * THRUM_MAINS_TRACK_EACH_S / LONG_FRAME_S + 0.5)) {
            tracker->frames_since = 0;
            renew(tracker, thrum_comb_count(tracker->comb));
        }
    }
}

size_t thrum_mains_tracker_until_new(const struct thrum_mains_tracker *tracker)
{
    return (size_t)(thrum_comb_frame(tracker->comb) - tracker->held);
}

void thrum_mains_tracker_now(const struct thrum_mains_tracker *tracker,
                             struct thrum_mains_value out[THRUM_MAINS_MAX])
{
    memcpy(out, tracker->now, sizeof tracker->now);
}
