#include "thrum/learn.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "listen/hunt.h"
#include "signal/decimate.h"
#include "thrum/listen.h"
#include "thrum/units.h"

#define LOUDEST 8.0 /* larger samples are limited to it */

enum { CHUNK = 1024 };

struct channel {
    struct thrum_decimate *decimate;
    float *ring; /* [keep] */
    size_t next, held;
    float last;         /* sample of the input */
    uint64_t unchanged; /* frames for which it has been the same */
};

struct thrum_learner {
    double rate_hz; /* analysis rate */
    int n_in;       /* channels of the input */
    int n;          /* channels looked at */
    size_t keep;    /* analysis samples kept */
    double rate_in_hz;
    uint64_t frames; /* of the input, so far */
    struct channel channel[THRUM_MAX_CHANNELS];
    float *one;             /* [CHUNK] one channel */
    float *low;             /* [CHUNK + 1] the same, decimated */
    float *x;               /* [keep] a channel, oldest first */
    struct thrum_run *runs; /* [RUNS] */
    struct thrum_hunt *hunt;
};

static enum thrum_status make_channel(struct thrum_learner *l, double rate_hz, struct channel *channel)
{
    enum thrum_status status = thrum_decimate_create(rate_hz, &channel->decimate);
    channel->ring = calloc(l->keep, sizeof *channel->ring);
    return status ? status : channel->ring ? THRUM_OK : THRUM_ERR_MEM;
}

enum thrum_status thrum_learner_create(double rate_hz, int channels, struct thrum_learner **learner)
{
    *learner = NULL;
    if (!(rate_hz >= THRUM_RATE_MIN_HZ && rate_hz <= THRUM_RATE_MAX_HZ) || channels < 1 || channels > 64)
        return THRUM_ERR_ARG;
    struct thrum_learner *l = calloc(1, sizeof *l);
    if (!l)
        return THRUM_ERR_MEM;
    enum thrum_status status = THRUM_OK;
    l->rate_hz = rate_hz / thrum_decimate_factor(rate_hz);
    l->rate_in_hz = rate_hz;
    l->n_in = channels;
    l->n = channels < THRUM_MAX_CHANNELS ? channels : THRUM_MAX_CHANNELS;
    l->keep = (size_t)(THRUM_LEARN_S * l->rate_hz);
    for (int i = 0; i < l->n && !status; i++)
        status = make_channel(l, rate_hz, &l->channel[i]);
    if (!status)
        status = thrum_hunt_create(l->rate_hz, l->keep, &l->hunt);
    l->one = calloc(CHUNK, sizeof *l->one);
    l->low = calloc(CHUNK + 1, sizeof *l->low);
    l->x = calloc(l->keep, sizeof *l->x);
    if (!status && (!l->one || !l->low || !l->x))
        status = THRUM_ERR_MEM;
    if (status)
        goto fail;
    *learner = l;
    return THRUM_OK;
fail:
    thrum_learner_destroy(l);
    return status;
}

void thrum_learner_destroy(struct thrum_learner *learner)
{
    if (!learner)
        return;
    for (int i = 0; i < THRUM_MAX_CHANNELS; i++) {
        thrum_decimate_destroy(learner->channel[i].decimate);
        free(learner->channel[i].ring);
    }
    thrum_hunt_destroy(learner->hunt);
    free(learner->one);
    free(learner->low);
    free(learner->x);
    free(learner);
}

static void keep(struct thrum_learner *l, struct channel *channel, const float *x, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        channel->ring[channel->next] = x[i];
        channel->next = (channel->next + 1) % l->keep;
    }
    channel->held = channel->held + n < l->keep ? channel->held + n : l->keep;
}

void thrum_learner_feed(struct thrum_learner *learner, const float *samples, size_t n_frames)
{
    struct thrum_learner *l = learner;
    float most = (float)LOUDEST;
    while (n_frames > 0) {
        size_t n = n_frames < CHUNK ? n_frames : CHUNK;
        for (int c = 0; c < l->n; c++) {
            struct channel *channel = &l->channel[c];
            for (size_t i = 0; i < n; i++) {
                float s = samples[i * (size_t)l->n_in + (size_t)c];
                l->one[i] = isfinite(s) ? fminf(fmaxf(s, -most), most) : 0.0f;
            }
            for (size_t i = 0; i < n; i++) {
                channel->unchanged = l->one[i] == channel->last ? channel->unchanged + 1 : 1;
                channel->last = l->one[i];
            }
            size_t out = thrum_decimate_feed(channel->decimate, l->one, n, l->low);
            keep(l, channel, l->low, out);
        }
        l->frames += n;
        samples += n * (size_t)l->n_in;
        n_frames -= n;
    }
}

static size_t lay_out(struct thrum_learner *l, const struct channel *channel)
{
    size_t from = (channel->next + l->keep - channel->held) % l->keep;
    size_t first = channel->held < l->keep - from ? channel->held : l->keep - from;
    memcpy(l->x, channel->ring + from, first * sizeof *l->x);
    memcpy(l->x + first, channel->ring, (channel->held - first) * sizeof *l->x);
    return channel->held;
}

/* The same value all the time that is remembered. */
static bool silent(const struct thrum_learner *l, const struct channel *channel)
{
    return (double)channel->unchanged >= fmin((double)l->frames, THRUM_LEARN_S * l->rate_in_hz);
}

/* Is `now` worth more than `best`? A voice before none, the clearer voice, something before silence. */
static bool better(const struct thrum_learned *now, const struct thrum_learned *best)
{
    if (now->what == THRUM_VOICE_FOUND)
        return best->what != THRUM_VOICE_FOUND || now->quality_db > best->quality_db;
    return best->what == THRUM_NOT_SILENCE;
}

enum thrum_status thrum_learner_result(struct thrum_learner *learner, struct thrum_learned *learned)
{
    for (int c = 0; c < learner->n; c++) {
        struct thrum_learned now;
        size_t n = lay_out(learner, &learner->channel[c]);
        enum thrum_status status = thrum_hunt_run(learner->hunt, learner->x, n, &now);
        if (now.what != THRUM_NOT_ENOUGH && silent(learner, &learner->channel[c]))
            now.what = THRUM_NOT_SILENCE;
        now.channel = c;
        if (status == THRUM_ERR_MEM) {
            *learned = (struct thrum_learned){.what = THRUM_NOT_ENOUGH, .quality_db = THRUM_FLOOR_DBFS};
            return status;
        }
        if (c == 0 || better(&now, learned))
            *learned = now;
    }
    if (learned->what == THRUM_VOICE_FOUND)
        return THRUM_OK;
    learned->voice = (struct thrum_voice){0};
    learned->quality_db = THRUM_FLOOR_DBFS;
    return THRUM_ERR_NOT_FOUND;
}
