#include "commands/ears.h"

#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/ears_sound.h"
#include "commands/progress.h"
#include "signal/clean.h"
#include "signal/decimate.h"
#include "signal/upsample.h"
#include "sound/message.h"
#include "sound/output.h"
#include "sound/ring.h"

#define CHUNK     480
#define POLL_NS   5000000u
#define HEARD_S   0.5 /* kept of what is heard, at most */
#define AHEAD_S   0.1 /* ... before it is played; what is more than HIGH_S is dropped */
#define HIGH_S    0.3
#define BLOCK_S   0.05  /* the session's step */
#define INPUT_S   0.1   /* what the input is asked for */
#define LOUDER    10.0f /* 20 dB: a tone at the probe is far below what a voice in a headphone is */
#define LATENCY_S 0.1

struct ears {
    enum ears_mode mode;
    const char *output_name;
    struct sound_host host;
    double late_s;
    char name[160];
    /* the session's */
    int channels;
    struct thrum_decimate *decimate;
    struct thrum_clean *clean;
    float *mono, *less; /* [CHUNK], [CHUNK + 1] */
    struct ring *heard; /* float, at the analysis rate */
    double heard_hz;
    /* the viewer's */
    int n_readings;
    bool picked[THRUM_MAX_SENDERS], was_lost;
    double gone_s; /* when it was seen that the output has gone; 0: it has not */
    /* shared */
    _Atomic int channel, cue; /* enum ears_cue asked for */
    _Atomic float guide_dbfs;
    _Atomic bool stop, away, gone;
    /* the player's */
    struct thrum_output *output;
    struct ears_sound sound;
    struct thrum_upsample *upsample; /* to the output's rate; cleaned sound only */
    bool flowing;
    pthread_t thread;
    bool threaded;
};

/* ---- what is heard ---------------------------------------------------------------------------- */

static bool make_cleaner(struct ears *e, const struct ears_config *config)
{
    double rate_hz = config->rate_hz / thrum_decimate_factor(config->rate_hz);
    struct thrum_clean_config clean = thrum_clean_config_default(rate_hz);
    for (int i = 0; i < config->n_voices; i++)
        for (int k = 0; k < config->voices[i].n_tones && clean.n_tones < THRUM_MAINS_AVOID; k++)
            clean.tones_hz[clean.n_tones++] = config->voices[i].tones_hz[k];
    e->channels = config->channels;
    e->heard_hz = rate_hz;
    e->mono = calloc(2 * CHUNK + 1, sizeof *e->mono);
    e->less = e->mono ? e->mono + CHUNK : NULL;
    e->heard = ring_create(sizeof(float), (size_t)(HEARD_S * rate_hz));
    return e->mono && e->heard && thrum_decimate_create(config->rate_hz, &e->decimate) == THRUM_OK &&
           thrum_clean_create(&clean, &e->clean) == THRUM_OK;
}

void ears_hear(struct ears *e, const float *samples, size_t n_frames)
{
    if (!e || e->mode != EARS_CLEANED)
        return;
    int channel = atomic_load(&e->channel);
    channel = channel >= 0 && channel < e->channels ? channel : 0;
    for (size_t done = 0; done < n_frames;) {
        size_t n = n_frames - done < CHUNK ? n_frames - done : CHUNK;
        for (size_t i = 0; i < n; i++) {
            float x = samples[(done + i) * (size_t)e->channels + (size_t)channel];
            e->mono[i] = isfinite(x) ? fmaxf(-1.0f, fminf(1.0f, x)) : 0.0f;
        }
        size_t made = thrum_decimate_feed(e->decimate, e->mono, n, e->less);
        thrum_clean_feed(e->clean, e->less, e->less, made);
        ring_write(e->heard, e->less, made); /* what does not fit is not played */
        done += n;
    }
}

/* The next samples at the output's rate; silence while there are none. */
static void pass_on(struct ears *e, float *out, size_t n)
{
    float drop[CHUNK];
    while ((double)ring_readable(e->heard) > HIGH_S * e->heard_hz)
        ring_read(e->heard, drop, CHUNK);
    if (!e->flowing)
        e->flowing = (double)ring_readable(e->heard) >= AHEAD_S * e->heard_hz;
    for (size_t i = 0; i < n && e->flowing; i++) {
        while (thrum_upsample_wants(e->upsample)) {
            float next = 0.0f;
            e->flowing = ring_read(e->heard, &next, 1) == 1 && e->flowing;
            thrum_upsample_push(e->upsample, next);
        }
        out[i] = LOUDER * thrum_upsample_next(e->upsample);
    }
}

/* ---- what is known ---------------------------------------------------------------------------- */

static double strongest(const struct thrum_snapshot *snapshot)
{
    double best = -(double)INFINITY;
    for (int i = 0; i < snapshot->n_senders; i++)
        best = fmax(best, snapshot->now.steady_dbfs[i]);
    return best;
}

/* The gravest of what is new. */
static enum ears_cue news(struct ears *e, const struct worker_view *view)
{
    const struct thrum_snapshot *snapshot = &view->snapshot;
    enum ears_cue cue = snapshot->n_readings > e->n_readings ? EARS_TAKEN : EARS_NONE;
    e->n_readings = snapshot->n_readings;
    for (int i = 0; i < snapshot->n_senders; i++) {
        bool picked = snapshot->pick[i].outcome == THRUM_PICKED;
        cue = picked && !e->picked[i] ? EARS_PICKED : cue;
        e->picked[i] = picked;
    }
    cue = view->input_lost && !e->was_lost ? EARS_LOST : cue;
    e->was_lost = view->input_lost;
    return cue;
}

bool ears_gone(const struct ears *ears, struct thrum_message *message)
{
    if (!ears || !(ears->gone_s > 0.0))
        return false;
    message_set(message, "the sound output '%s' has gone: no ears; the round goes on", ears->name);
    return true;
}

/* A sound server takes both with it; then the input's own words count, and the output is tried again with it. What the worker has
 * to say later counts, too, but every look brings its older words again. */
static void tell_gone(struct ears *e, struct worker_view *view)
{
    if (view->input_lost || !atomic_load(&e->gone))
        e->gone_s = 0.0;
    else if (!(e->gone_s > 0.0))
        e->gone_s = clock_s();
    if (e->gone_s >= view->message_s && ears_gone(e, &view->message))
        view->message_s = e->gone_s;
}

void ears_see(struct ears *e, struct worker_view *view)
{
    if (!e)
        return;
    enum ears_cue cue = news(e, view);
    if (cue != EARS_NONE)
        atomic_store(&e->cue, cue);
    atomic_store(&e->channel, view->snapshot.now.channel);
    atomic_store(&e->guide_dbfs, view->input_lost ? -1000.0f : (float)strongest(&view->snapshot));
    atomic_store(&e->away, view->input_lost);
    tell_gone(e, view);
}

/* ---- playing ---------------------------------------------------------------------------------- */

static enum thrum_status open_output_again(struct ears *e, struct thrum_message *message)
{
    struct thrum_output_config config = {.name = e->output_name, .latency_s = LATENCY_S};
    enum thrum_status status = output_open(&e->host, &config, &e->output, message);
    if (status != THRUM_OK)
        return status;
    ears_sound_begin(&e->sound, thrum_output_rate_hz(e->output));
    if (e->mode != EARS_CLEANED)
        return THRUM_OK;
    thrum_upsample_destroy(e->upsample);
    return thrum_upsample_create(e->heard_hz, thrum_output_rate_hz(e->output), &e->upsample);
}

/* While the input is away the output is closed, once the cue is over: the sound system looks for new devices only when
 * nobody uses it. */
static void follow_input(struct ears *e)
{
    bool away = atomic_load(&e->away);
    if (away)
        atomic_store(&e->gone, false);
    if (away && e->output && !ears_sound_cueing(&e->sound) && atomic_load(&e->cue) == EARS_NONE) {
        thrum_output_close(e->output, true);
        e->output = NULL;
    } else if (!away && !e->output && !atomic_load(&e->gone)) {
        atomic_store(&e->gone, open_output_again(e, NULL) != THRUM_OK);
    }
}

/* false: there is no room, or nobody to play to. */
static bool play_some(struct ears *e)
{
    float out[CHUNK] = {0};
    size_t room, taken;
    if (!e->output || thrum_output_room(e->output, &room) != THRUM_OK) {
        if (e->output) {
            thrum_output_close(e->output, false);
            e->output = NULL;
            atomic_store(&e->gone, true);
        }
        return false;
    }
    size_t n = room < CHUNK ? room : CHUNK;
    if (n == 0)
        return false;
    if (e->mode == EARS_CLEANED)
        pass_on(e, out, n);
    if (e->mode == EARS_GUIDE)
        ears_sound_guide(&e->sound, (double)atomic_load(&e->guide_dbfs));
    int cue = atomic_exchange(&e->cue, EARS_NONE);
    if (cue != EARS_NONE)
        ears_sound_cue(&e->sound, (enum ears_cue)cue);
    ears_sound_add(&e->sound, out, n);
    thrum_output_offer(e->output, out, n, &taken);
    return true;
}

void ears_step(struct ears *e)
{
    follow_input(e);
    while (play_some(e))
        ;
}

static void *play(void *context)
{
    struct ears *e = context;
    while (!atomic_load(&e->stop)) {
        ears_step(e);
        e->host.sleep_ns(e->host.context, POLL_NS);
    }
    return NULL;
}

/* ---- opening and closing ---------------------------------------------------------------------- */

static bool start_thread(struct ears *e)
{
    sigset_t all, before;
    sigfillset(&all); /* signals belong to the main thread */
    pthread_sigmask(SIG_BLOCK, &all, &before);
    e->threaded = pthread_create(&e->thread, NULL, play, e) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return e->threaded;
}

int ears_open(const struct ears_config *config, struct ears **ears, struct thrum_message *message)
{
    struct ears *e = calloc(1, sizeof *e);
    *ears = NULL;
    message_set(message, "not enough memory for ears; close other programs");
    if (!e)
        return CODE_DEVICE;
    e->mode = config->mode;
    e->output_name = config->output;
    e->host = config->host ? *config->host : sound_host_real();
    atomic_init(&e->guide_dbfs, -1000.0f);
    if (e->mode == EARS_CLEANED && !make_cleaner(e, config))
        goto fail;
    enum thrum_status status = open_output_again(e, message);
    if (status != THRUM_OK) {
        ears_close(e);
        return status == THRUM_ERR_ARG ? CODE_USAGE : CODE_DEVICE;
    }
    snprintf(e->name, sizeof e->name, "%s", thrum_output_name(e->output));
    e->late_s =
        INPUT_S + BLOCK_S + thrum_output_latency_s(e->output) + (e->mode == EARS_CLEANED ? AHEAD_S : 0.0);
    if (e->host.threads && !start_thread(e))
        goto fail;
    message_set(message, "%s", "");
    *ears = e;
    return CODE_DONE;
fail:
    ears_close(e);
    return CODE_DEVICE;
}

void ears_close(struct ears *e)
{
    if (!e)
        return;
    atomic_store(&e->stop, true);
    if (e->threaded)
        pthread_join(e->thread, NULL); /* every call of it is bounded */
    thrum_output_close(e->output, true);
    ring_destroy(e->heard);
    thrum_decimate_destroy(e->decimate);
    thrum_clean_destroy(e->clean);
    thrum_upsample_destroy(e->upsample);
    free(e->mono);
    free(e);
}

const char *ears_output(const struct ears *ears)
{
    return ears->name;
}

double ears_late_s(const struct ears *ears)
{
    return ears->late_s;
}
