#include "thrum/learn.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "signal/decimate.h"
#include "signal/edgefit.h"
#include "signal/humtake.h"
#include "signal/mains.h"
#include "signal/segment.h"
#include "signal/shorttime.h"
#include "signal/tonefind.h"
#include "signal/touchfit.h"
#include "thrum/listen.h"
#include "thrum/units.h"

#define LOUDEST     8.0  /* larger samples are limited to it */
#define LEAST_S     1.0  /* less is not enough */
#define SHORTEST_S  0.04 /* shortest beep and pause; a margin is taken off for the measuring */
#define ALTERNATE_S 0.02 /* shortest of alternating tones */
#define QUALITY_DB  6.0  /* a voice stands out at least so far */

enum { CHUNK = 1024, RUNS = 2048, WINDOWS = 2, HUM_PASSES = 2 };

static const double window_s[WINDOWS] = {0.064, 0.024}, hop_s[WINDOWS] = {0.008, 0.003};

struct channel {
    struct thrum_decimate *decimate;
    float *ring; /* [keep] */
    size_t next, held;
};

struct thrum_learner {
    double rate_hz; /* analysis rate */
    int n_in;       /* channels of the input */
    int n;          /* channels looked at */
    size_t keep;    /* analysis samples kept */
    struct channel channel[THRUM_MAX_CHANNELS];
    float *one;             /* [CHUNK] one channel */
    float *low;             /* [CHUNK + 1] the same, decimated */
    float *x;               /* [keep] a channel, oldest first */
    struct thrum_run *runs; /* [RUNS] */
    float *clean;           /* [keep] the same, hum taken out */
    float *heard;           /* [keep] the same, the voice taken out */
    struct thrum_mains *mains;
    struct thrum_humtake *humtake;
    struct thrum_shorttime *shorttime[WINDOWS];
};

const char *thrum_not_voice_text(enum thrum_not_voice what)
{
    switch (what) {
    case THRUM_VOICE_FOUND:
        return "a sender's voice";
    case THRUM_NOT_ENOUGH:
        return "not enough sound: at least two repetitions of the beeps are needed";
    case THRUM_NOT_SILENCE:
        return "digital silence: no sound arrives at all";
    case THRUM_NOT_HUM:
        return "only hum of the mains";
    case THRUM_NOT_NOISE:
        return "only noise";
    case THRUM_NOT_CLICKS:
        return "clicks, not a tone";
    case THRUM_NOT_IRREGULAR:
        return "tones without a repeating pattern, like speech or music";
    case THRUM_NOT_SWEEPING:
        return "a tone whose frequency moves, like a siren";
    case THRUM_NOT_TOO_FAST:
        return "beeps shorter than 40 ms: too fast to time";
    }
    return "something unknown";
}

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
    l->n_in = channels;
    l->n = channels < THRUM_MAX_CHANNELS ? channels : THRUM_MAX_CHANNELS;
    l->keep = (size_t)(THRUM_LEARN_S * l->rate_hz);
    for (int i = 0; i < l->n && !status; i++)
        status = make_channel(l, rate_hz, &l->channel[i]);
    if (!status)
        status = thrum_mains_create(l->rate_hz, &l->mains);
    if (!status)
        status = thrum_humtake_create(l->rate_hz, l->keep, &l->humtake);
    for (int i = 0; i < WINDOWS && !status; i++)
        status = thrum_shorttime_create(l->rate_hz, window_s[i], hop_s[i], 3500.0, THRUM_LEARN_S,
                                        &l->shorttime[i]);
    l->one = calloc(CHUNK, sizeof *l->one);
    l->low = calloc(CHUNK + 1, sizeof *l->low);
    l->x = calloc(l->keep, sizeof *l->x);
    l->clean = calloc(l->keep, sizeof *l->clean);
    l->heard = calloc(l->keep, sizeof *l->heard);
    l->runs = calloc(RUNS, sizeof *l->runs);
    if (!status && (!l->one || !l->low || !l->x || !l->clean || !l->heard || !l->runs))
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
    for (int i = 0; i < WINDOWS; i++)
        thrum_shorttime_destroy(learner->shorttime[i]);
    thrum_mains_destroy(learner->mains);
    thrum_humtake_destroy(learner->humtake);
    free(learner->one);
    free(learner->low);
    free(learner->x);
    free(learner->clean);
    free(learner->heard);
    free(learner->runs);
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
            for (size_t i = 0; i < n; i++) {
                float s = samples[i * (size_t)l->n_in + (size_t)c];
                l->one[i] = isfinite(s) ? fminf(fmaxf(s, -most), most) : 0.0f;
            }
            size_t out = thrum_decimate_feed(l->channel[c].decimate, l->one, n, l->low);
            keep(l, &l->channel[c], l->low, out);
        }
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

static bool silent(const float *x, size_t n)
{
    for (size_t i = 1; i < n; i++)
        if (x[i] != x[0])
            return false;
    return true;
}

/* Hum as the fit wants it: the frequency in the middle of all n samples. */
static int hum_sources(struct thrum_learner *l, size_t n, struct thrum_hum_source *hum, double *mains_hz)
{
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    double length = (double)n / l->rate_hz, looked_at = fmin(length, THRUM_MAINS_MEASURE_S);
    int n_hum = 0;
    thrum_mains_measure(l->mains, l->x, n, mains);
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        if (mains[i].found)
            hum[n_hum++] = (struct thrum_hum_source){
                mains[i].hz - mains[i].slope_hz_per_s * 0.5 * (length - looked_at), mains[i].slope_hz_per_s};
    *mains_hz = n_hum ? mains[0].hz : 0.0;
    return n_hum;
}

static void voice_from(const struct thrum_pattern *pattern, const struct thrum_keyed *tones, int n_tones,
                       struct thrum_voice *voice)
{
    *voice = (struct thrum_voice){
        .name = "a", .n_tones = n_tones, .n_steps = pattern->n_steps, .level_dbfs = THRUM_FLOOR_DBFS};
    for (int k = 0; k < n_tones; k++)
        voice->tones_hz[k] = fmin(fmax(tones[k].hz, THRUM_TONE_MIN_HZ), THRUM_TONE_MAX_HZ);
    memcpy(voice->step, pattern->step, sizeof voice->step);
}

/* Shorter steps than can be timed? */
static bool too_fast(const struct thrum_voice *voice)
{
    for (int i = 0; i < voice->n_steps; i++) {
        double least = voice->n_tones > 1 ? ALTERNATE_S : SHORTEST_S;
        if (voice->step[i].s < 0.9 * least)
            return true;
    }
    return false;
}

static bool good(const struct thrum_voice *voice)
{
    return thrum_voice_check(voice, NULL) == THRUM_OK;
}

/* The hum beside the tone fitted too: for a voice of one tone. What is learned is what the fit says. */
static void fit_with_hum(struct thrum_learner *l, size_t n, const struct thrum_edgefit_result *edges,
                         const struct thrum_hum_source *hum, int n_hum, struct thrum_learned *learned)
{
    struct thrum_touchfit *fit = NULL;
    if (thrum_touchfit_create(l->rate_hz, &edges->voice, &fit))
        return;
    struct thrum_lock_state from = {
        .timing = {.start_s = edges->start_s + 0.5 * (double)n / l->rate_hz, .scale = 1.0},
        .slope_hz_per_s = edges->slope_hz_per_s};
    struct thrum_touchfit_job job = {
        .x = l->x, .n = n, .hum = hum, .n_hum = n_hum, .from = &from, .free_steps = true};
    const struct thrum_touchfit_result *r = thrum_touchfit_run(fit, &job);
    double quality_db = thrum_db_from_power(r->power / fmax(r->noise, 1e-30));
    struct thrum_voice voice = r->voice;
    voice.tones_hz[0] += r->state.tone_offset_hz[0];
    voice.level_dbfs = thrum_db_from_power(r->power);
    voice.spread_s = r->step_sd_s;
    if (r->n_beeps > 0 && quality_db > learned->quality_db && r->gap_power < 0.25 * r->power &&
        good(&voice)) {
        learned->voice = voice;
        learned->quality_db = quality_db;
    }
    thrum_touchfit_destroy(fit);
}

/* The exact fits, from what the look saw. */
static enum thrum_not_voice refine(struct thrum_learner *l, size_t n, const struct thrum_voice *coarse,
                                   double begin_s, const struct thrum_hum_source *hum, int n_hum,
                                   struct thrum_learned *learned)
{
    struct thrum_edgefit *fit = NULL;
    struct thrum_edgefit_result edges;
    if (thrum_edgefit_create(l->rate_hz, n, coarse->n_tones, &fit))
        return THRUM_NOT_IRREGULAR;
    enum thrum_status status = thrum_edgefit_run(fit, l->x, n, coarse, begin_s, &edges);
    for (int pass = 0; pass < HUM_PASSES && n_hum > 0 && !status; pass++) {
        double cycle_s = thrum_voice_cycle_s(&edges.voice);
        const float *rest = thrum_edgefit_rest(fit);
        for (size_t i = 0; i < n; i++) /* the sound without the voice, its hum put back */
            l->heard[i] = rest[i] + (pass > 0 ? l->x[i] - l->clean[i] : 0.0f);
        memcpy(l->clean, l->x, n * sizeof *l->clean);
        thrum_humtake_run(l->humtake, l->heard, l->clean, n, hum, n_hum);
        struct thrum_voice voice = edges.voice;
        status = thrum_edgefit_run(fit, l->clean, n, &voice, cycle_s - edges.start_s, &edges);
    }
    thrum_edgefit_destroy(fit);
    if (status || !good(&edges.voice))
        return THRUM_NOT_IRREGULAR;
    learned->voice = edges.voice;
    learned->quality_db = edges.quality_db;
    if (coarse->n_tones == 1 && !coarse->steady)
        fit_with_hum(l, n, &edges, hum, n_hum, learned);
    if (learned->quality_db < QUALITY_DB)
        return THRUM_NOT_IRREGULAR;
    return too_fast(&learned->voice) ? THRUM_NOT_TOO_FAST : THRUM_VOICE_FOUND;
}

/* One look with windows of one length. */
static enum thrum_not_voice look(struct thrum_learner *l, size_t n, int w, const struct thrum_hum_source *hum,
                                 int n_hum, struct thrum_learned *learned)
{
    struct thrum_shorttime *sound = l->shorttime[w];
    struct thrum_keyed found[THRUM_TONEFIND_MAX], tones[THRUM_VOICE_TONES];
    struct thrum_pattern_limits limits = {.tolerance_s = fmax(0.006, 0.2 * window_s[w]), .tolerance = 0.06};
    struct thrum_pattern pattern;
    struct thrum_voice voice;
    thrum_shorttime_run(sound, l->x, n);
    int n_found = thrum_tonefind_list(sound, THRUM_TONE_MIN_HZ, THRUM_TONE_MAX_HZ, found);
    int n_tones = thrum_tonefind_choose(sound, found, n_found, tones, THRUM_VOICE_TONES);
    if (n_tones < 1)
        return THRUM_NOT_NOISE;
    int n_runs = thrum_segment_cut(sound, tones, n_tones, 0.25 * window_s[w], l->runs, RUNS);
    if (!thrum_pattern_find(l->runs, n_runs, &limits, &pattern))
        return THRUM_NOT_IRREGULAR;
    voice_from(&pattern, tones, n_tones, &voice);
    if (too_fast(&voice))
        return THRUM_NOT_TOO_FAST;
    if (thrum_voice_check(&voice, NULL))
        return THRUM_NOT_IRREGULAR;
    return refine(l, n, &voice, pattern.start_s, hum, n_hum, learned);
}

static enum thrum_not_voice learn_channel(struct thrum_learner *l, int c, struct thrum_learned *learned)
{
    size_t n = lay_out(l, &l->channel[c]);
    struct thrum_hum_source hum[THRUM_MAINS_MAX];
    enum thrum_not_voice what = THRUM_NOT_ENOUGH;
    if ((double)n < LEAST_S * l->rate_hz)
        return THRUM_NOT_ENOUGH;
    if (silent(l->x, n))
        return THRUM_NOT_SILENCE;
    int n_hum = hum_sources(l, n, hum, &learned->mains_hz);
    for (int w = 0; w < WINDOWS && what != THRUM_VOICE_FOUND; w++) {
        enum thrum_not_voice seen = look(l, n, w, hum, n_hum, learned);
        if (w == 0 || seen == THRUM_VOICE_FOUND || seen == THRUM_NOT_TOO_FAST)
            what = seen;
    }
    return what == THRUM_NOT_NOISE && n_hum > 0 ? THRUM_NOT_HUM : what;
}

enum thrum_status thrum_learner_result(struct thrum_learner *learner, struct thrum_learned *learned)
{
    struct thrum_learned best = {.what = THRUM_NOT_SILENCE, .quality_db = THRUM_FLOOR_DBFS};
    for (int c = 0; c < learner->n; c++) {
        struct thrum_learned now = {.quality_db = THRUM_FLOOR_DBFS, .channel = c};
        now.what = learn_channel(learner, c, &now);
        bool better = now.what == THRUM_VOICE_FOUND
                          ? best.what != THRUM_VOICE_FOUND || now.quality_db > best.quality_db
                          : best.what == THRUM_NOT_SILENCE;
        if (c == 0 || better)
            best = now;
    }
    if (best.what != THRUM_VOICE_FOUND)
        memset(&best.voice, 0, sizeof best.voice);
    *learned = best;
    return best.what == THRUM_VOICE_FOUND ? THRUM_OK : THRUM_ERR_NOT_FOUND;
}
