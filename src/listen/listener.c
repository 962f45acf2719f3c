#include "thrum/listen.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/door.h"
#include "listen/history.h"
#include "listen/live.h"
#include "listen/meddling.h"
#include "listen/rate.h"
#include "listen/rebound.h"
#include "listen/together.h"
#include "listen/touches.h"
#include "signal/beeps.h"
#include "signal/decimate.h"
#include "signal/trust.h"

enum {
    CHUNK = 4096,
    GAPS = 64 /* remembered; older ones are forgotten */
};

#define LOW_DBFS     (-80.0) /* an input whose peaks stay below this is too low to use */
#define SURE_CHANNEL (-6.0)  /* lg of a false alarm, from which on a channel is kept */
#define SURE_SENDER  (-6.0)  /* the same, from which on a sender is followed to where it was heard... */
#define FOLLOW_HZ    3.0     /* ...if that is so far from where it was looked for... */
#define FOLLOW_SHARE 0.08    /* ...and no farther from where it was learned, as a share */
#define DRIFT_SHARE  0.01

struct channel {
    struct thrum_decimate *decimate;
    struct thrum_history history;
};

struct thrum_listener {
    struct thrum_listener_config config;
    double analysis_hz;
    int factor, n_channels;
    int channel;       /* in use */
    bool channel_kept; /* by the caller or by a clear tone */
    bool finished;
    uint64_t frames, bad_samples;
    uint32_t input_faults;        /* told from outside */
    struct thrum_span lost[GAPS]; /* the latest, ring */
    size_t n_lost;
    uint64_t doubtful[GAPS]; /* where touches begin whose number is in doubt; the latest, ring */
    size_t n_doubtful;
    struct channel channels[THRUM_MAX_CHANNELS];
    struct thrum_touchfit *fits[THRUM_MAX_SENDERS];
    double tone_hz;                       /* the first sender's first tone: it is looked for around here */
    struct thrum_together_room *together; /* NULL for one voice */
    struct thrum_mains *mains;
    struct thrum_trust *trust;
    struct thrum_meddling *meddling;
    struct thrum_rebound *rebound;
    struct thrum_touches *touches;
    struct thrum_live *live;
    float taken[CHUNK], analysed[CHUNK + 1];
};

static enum thrum_status config_wrong(const struct thrum_listener_config *config)
{
    if (!(config->rate_hz >= THRUM_RATE_MIN_HZ && config->rate_hz <= THRUM_RATE_MAX_HZ))
        return THRUM_ERR_ARG;
    if (config->channels < 1 || config->channels > 64 || config->channel < -1 ||
        config->channel >= config->channels)
        return THRUM_ERR_ARG;
    if (config->n_voices < 0 || config->n_voices > THRUM_MAX_SENDERS)
        return THRUM_ERR_ARG;
    for (int i = 0; i < config->n_voices; i++)
        if (thrum_voice_check(&config->voice[i], NULL))
            return THRUM_ERR_ARG;
    return THRUM_OK;
}

static enum thrum_status make_channels(struct thrum_listener *l)
{
    size_t keep = (size_t)(THRUM_KEEP_S * l->analysis_hz);
    for (int i = 0; i < l->n_channels; i++) {
        enum thrum_status status = thrum_decimate_create(l->config.rate_hz, &l->channels[i].decimate);
        if (!status)
            status = thrum_history_create(keep, &l->channels[i].history);
        if (status)
            return status;
    }
    return THRUM_OK;
}

static void avoid_tones(struct thrum_listener *l)
{
    double tones[THRUM_MAX_SENDERS * THRUM_VOICE_TONES], beep_s[THRUM_MAX_SENDERS * THRUM_VOICE_TONES];
    int n = 0;
    for (int i = 0; i < l->config.n_voices; i++)
        for (int k = 0; k < l->config.voice[i].n_tones; k++) {
            beep_s[n] = thrum_beeps_mean_s(&l->config.voice[i], k);
            tones[n++] = l->config.voice[i].tones_hz[k];
        }
    thrum_mains_avoid(l->mains, tones, beep_s, n);
}

static double moved_share(const struct thrum_listener *l, int sender, double tone_hz)
{
    return fabs(tone_hz / l->config.voice[sender].tones_hz[0] - 1.0);
}

/* Several senders might be taken for each other. */
enum thrum_status thrum_listener_aim(struct thrum_listener *listener, double tone_hz)
{
    struct thrum_listener *l = listener;
    if (l->config.n_voices != 1 || !(moved_share(l, 0, tone_hz) <= FOLLOW_SHARE))
        return THRUM_ERR_ARG;
    l->tone_hz = tone_hz;
    thrum_touchfit_move(l->fits[0], tone_hz);
    if (l->live)
        thrum_live_move(l->live, 0, tone_hz);
    return THRUM_OK;
}

void thrum_listener_follow(struct thrum_listener *listener, const struct thrum_reading *reading)
{
    struct thrum_listener *l = listener;
    const struct thrum_strength *strength = &reading->strength[0];
    if (strength->heard && strength->score < SURE_SENDER && fabs(strength->tone_hz - l->tone_hz) > FOLLOW_HZ)
        thrum_listener_aim(l, strength->tone_hz);
}

static double longest_cycle_s(const struct thrum_listener_config *config)
{
    double longest = 0.0;
    for (int i = 0; i < config->n_voices; i++)
        longest = fmax(longest, thrum_voice_cycle_s(&config->voice[i]));
    return longest;
}

static enum thrum_status make_parts(struct thrum_listener *l)
{
    const struct thrum_listener_config *config = &l->config;
    enum thrum_status status = make_channels(l);
    l->tone_hz = config->voice[0].tones_hz[0];
    for (int i = 0; i < config->n_voices && !status; i++)
        status = thrum_touchfit_create(l->analysis_hz, &config->voice[i], &l->fits[i]);
    if (!status && config->n_voices > 1)
        status = thrum_together_create(l->analysis_hz, config->voice, config->n_voices,
                                       (size_t)(THRUM_KEEP_S * l->analysis_hz) + 1, &l->together);
    if (!status)
        status = thrum_mains_create(l->analysis_hz, &l->mains);
    if (!status)
        status = thrum_trust_create(config->rate_hz, config->channels, &l->trust);
    if (!status)
        status = thrum_meddling_create(l->analysis_hz, &l->meddling);
    if (!status)
        status = thrum_rebound_create(l->analysis_hz, &l->rebound);
    struct thrum_touch_tools tools = {l->fits, config->n_voices, l->mains};
    if (!status && config->find_touches)
        status = thrum_touches_create(l->analysis_hz, &tools, longest_cycle_s(config), &l->touches);
    if (!status && config->bar)
        status = thrum_live_create(l->analysis_hz, config->voice, config->n_voices, &tools, &l->live);
    if (!status)
        avoid_tones(l);
    return status;
}

enum thrum_status thrum_listener_create(const struct thrum_listener_config *config,
                                        struct thrum_listener **listener)
{
    *listener = NULL;
    enum thrum_status status = config_wrong(config);
    if (status)
        return status;
    struct thrum_listener *l = calloc(1, sizeof *l);
    if (!l)
        return THRUM_ERR_MEM;
    l->config = *config;
    l->factor = thrum_decimate_factor(config->rate_hz);
    l->analysis_hz = config->rate_hz / l->factor;
    l->n_channels = config->channels < THRUM_MAX_CHANNELS ? config->channels : THRUM_MAX_CHANNELS;
    l->channel_kept = config->channel >= 0 || config->channels == 1;
    l->channel = config->channel >= 0 && config->channel < l->n_channels ? config->channel : 0;
    status = make_parts(l);
    if (status) {
        thrum_listener_destroy(l);
        return status;
    }
    *listener = l;
    return THRUM_OK;
}

void thrum_listener_destroy(struct thrum_listener *listener)
{
    if (!listener)
        return;
    thrum_live_destroy(listener->live);
    thrum_touches_destroy(listener->touches);
    thrum_meddling_destroy(listener->meddling);
    thrum_rebound_destroy(listener->rebound);
    thrum_trust_destroy(listener->trust);
    thrum_mains_destroy(listener->mains);
    thrum_together_destroy(listener->together);
    for (int i = 0; i < THRUM_MAX_SENDERS; i++)
        thrum_touchfit_destroy(listener->fits[i]);
    for (int i = 0; i < THRUM_MAX_CHANNELS; i++) {
        thrum_decimate_destroy(listener->channels[i].decimate);
        thrum_history_destroy(&listener->channels[i].history);
    }
    free(listener);
}

/* New analysis samples of one channel, already in its history. */
static void analyse(struct thrum_listener *l, int channel, const float *x, size_t n)
{
    if (channel != l->channel)
        return;
    thrum_rebound_feed(l->rebound, x, n);
    if (l->touches)
        thrum_touches_feed(l->touches, &l->channels[channel].history, x, n);
    if (l->live)
        thrum_live_feed(l->live, &l->channels[channel].history, x, n);
}

static void keep(struct thrum_listener *l, int channel, const float *x, size_t n)
{
    struct thrum_history *history = &l->channels[channel].history;
    memcpy(thrum_history_room(history, n), x, n * sizeof *x);
    thrum_history_added(history, n);
    analyse(l, channel, x, n);
}

void thrum_listener_feed(struct thrum_listener *listener, const float *samples, size_t n_frames)
{
    struct thrum_listener *l = listener;
    size_t width = (size_t)l->config.channels;
    while (n_frames > 0) {
        size_t n = n_frames < CHUNK ? n_frames : CHUNK;
        thrum_trust_feed(l->trust, samples, n);
        for (int i = 0; i < l->n_channels; i++) {
            l->bad_samples += thrum_door_take(samples, n, l->config.channels, i, l->taken);
            size_t made = thrum_decimate_feed(l->channels[i].decimate, l->taken, n, l->analysed);
            keep(l, i, l->analysed, made);
        }
        l->frames += n;
        samples += n * width;
        n_frames -= n;
    }
}

void thrum_listener_lost(struct thrum_listener *listener, uint64_t n_frames)
{
    static const float silence[64 * 64] = {0};
    struct thrum_listener *l = listener;
    uint64_t left = n_frames;
    while (left > 0) {
        size_t n = left < 64 ? (size_t)left : 64;
        thrum_listener_feed(l, silence, n);
        left -= n;
    }
    if (n_frames > 0)
        l->lost[l->n_lost++ % GAPS] = (struct thrum_span){l->frames - n_frames, l->frames};
}

static bool in_doubt(const struct thrum_listener *l, uint64_t first)
{
    size_t n = l->n_doubtful < GAPS ? l->n_doubtful : GAPS;
    for (size_t i = 0; i < n; i++)
        if (l->doubtful[i] == first)
            return true;
    return false;
}

static bool lost_in(const struct thrum_listener *l, uint64_t first, uint64_t end)
{
    size_t n = l->n_lost < GAPS ? l->n_lost : GAPS;
    for (size_t i = 0; i < n; i++)
        if (l->lost[i].first < end && l->lost[i].end > first)
            return true;
    return false;
}

void thrum_listener_finish(struct thrum_listener *listener)
{
    struct thrum_listener *l = listener;
    if (l->finished)
        return;
    l->finished = true;
    for (int i = 0; i < l->n_channels; i++) {
        size_t made = thrum_decimate_finish(l->channels[i].decimate, l->analysed);
        keep(l, i, l->analysed, made);
    }
    if (l->touches)
        thrum_touches_finish(l->touches, &l->channels[l->channel].history);
}

bool thrum_listener_next_touch(struct thrum_listener *listener, struct thrum_span *span)
{
    struct thrum_listener *l = listener;
    uint64_t first, end;
    bool doubtful;
    if (!l->touches || !thrum_touches_next(l->touches, &first, &end, &doubtful))
        return false;
    span->first = first * (uint64_t)l->factor;
    span->end = end * (uint64_t)l->factor;
    if (doubtful)
        l->doubtful[l->n_doubtful++ % GAPS] = span->first;
    return true;
}

/* The span in analysis samples, as far as it is kept and has come through the filter. */
static size_t part(const struct thrum_listener *l, int channel, struct thrum_span span, const float **x,
                   uint64_t *first_frame)
{
    const struct thrum_history *history = &l->channels[channel].history;
    uint64_t factor = (uint64_t)l->factor, first = (span.first + factor - 1) / factor,
             end = span.end / factor;
    uint64_t have = thrum_history_end(history);
    end = end < have ? end : have;
    first = first < end ? first : end;
    *x = thrum_history_part(history, &first);
    *first_frame = first * factor;
    return end > first ? (size_t)(end - first) : 0;
}

struct measured {
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    struct thrum_strength strength[THRUM_MAX_SENDERS];
    uint32_t faults;
    double noise_density;
    double breath_db, breath_sd_db;
};

/* What the input does to the sound by itself, as this sender's beeps show it; the surest voice tells how it breathes. */
static void judge_input(struct thrum_listener *l, const float *x, size_t n, int voice,
                        const struct thrum_touchfit_result *fit, struct measured *m)
{
    struct thrum_meddling_value value;
    thrum_meddling_judge(l->meddling, x, n, l->fits[voice], fit, &value);
    m->faults |= value.faults;
    if (value.floor.n > 0 && (m->breath_sd_db <= 0.0 || value.floor.sd_db < m->breath_sd_db)) {
        m->breath_db = value.floor.db;
        m->breath_sd_db = value.floor.sd_db;
    }
}

static void measure_channel(struct thrum_listener *l, const float *x, size_t n, struct measured *m)
{
    struct thrum_hum_source hum[THRUM_HUM_SOURCES];
    struct thrum_touchfit_job job = {.x = x, .n = n, .hum = hum};
    struct thrum_together voices[THRUM_MAX_SENDERS];
    memset(m, 0, sizeof *m);
    job.n_hum = thrum_hum_in(l->mains, x, n, m->mains, hum);
    if (l->config.n_voices > 0)
        thrum_together_measure(l->together, l->fits, l->config.n_voices, &job, voices);
    for (int i = 0; i < l->config.n_voices; i++) {
        struct thrum_strength_notes notes = voices[i].notes;
        const struct thrum_touchfit_result *fit = thrum_touchfit_last(l->fits[i]);
        m->strength[i] = voices[i].strength;
        m->noise_density = i == 0 ? fit->noise_density : m->noise_density;
        m->faults |= notes.hum_on_tone ? THRUM_FAULT_HUM_ON_TONE : 0u;
        m->faults |= notes.other_cadence ? THRUM_FAULT_OTHER_CADENCE : 0u;
        bool far = m->strength[i].heard && moved_share(l, i, m->strength[i].tone_hz) > DRIFT_SHARE;
        m->faults |= notes.drift || far ? THRUM_FAULT_DRIFT : 0u;
        m->faults |= fit->n_beeps == 0 ? THRUM_FAULT_TOO_SHORT : 0u;
        if (m->strength[i].heard)
            judge_input(l, x, n, i, fit, m);
    }
}

static double best_score(const struct thrum_listener *l, const struct measured *m)
{
    double best = 0.0;
    for (int i = 0; i < l->config.n_voices; i++)
        best = fmin(best, m->strength[i].score);
    return best;
}

/* The channel with the clearest tone, by tone to noise and not by loudness; kept once it is beyond doubt. */
static size_t choose_channel(struct thrum_listener *l, struct thrum_span span, struct measured *m,
                             uint64_t *first)
{
    const float *x;
    size_t n = part(l, l->channel, span, &x, first);
    measure_channel(l, x, n, m);
    if (l->channel_kept || l->config.n_voices == 0)
        return n;
    double best = best_score(l, m);
    for (int i = 0; i < l->n_channels; i++) {
        struct measured other;
        if (i == l->channel)
            continue;
        n = part(l, i, span, &x, first);
        measure_channel(l, x, n, &other);
        if (best_score(l, &other) < best) {
            best = best_score(l, &other);
            l->channel = i;
            *m = other;
        }
    }
    l->channel_kept = best < SURE_CHANNEL;
    return n;
}

double thrum_listener_elsewhere(struct thrum_listener *listener, struct thrum_span span, double share)
{
    struct thrum_listener *l = listener;
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    struct thrum_hum_source hum[THRUM_HUM_SOURCES];
    struct thrum_touchfit_job job = {.hum = hum};
    uint64_t first;
    if (span.end <= span.first || span.end > l->frames || l->config.n_voices != 1)
        return -(double)INFINITY;
    job.n = part(l, l->channel, span, &job.x, &first);
    job.n_hum = thrum_hum_in(l->mains, job.x, job.n, mains, hum);
    return thrum_touchfit_elsewhere(l->fits[0], &job, share);
}

void thrum_listener_input_faults(struct thrum_listener *listener, uint32_t faults)
{
    listener->input_faults = faults;
}

enum thrum_status thrum_listener_measure(struct thrum_listener *listener, struct thrum_span span,
                                         struct thrum_reading *reading)
{
    struct thrum_listener *l = listener;
    struct measured m;
    uint64_t first;
    memset(reading, 0, sizeof *reading);
    if (span.end <= span.first || span.end > l->frames)
        return THRUM_ERR_ARG;
    size_t n = choose_channel(l, span, &m, &first);
    reading->first_frame = first;
    reading->frames = (uint64_t)n * (uint64_t)l->factor;
    reading->rate_hz = l->config.rate_hz;
    reading->channel = l->channel;
    reading->n_senders = l->config.n_voices;
    memcpy(reading->strength, m.strength, sizeof reading->strength);
    reading->hum_dbfs = m.mains[0].found ? m.mains[0].dbfs : THRUM_FLOOR_DBFS;
    reading->mains_hz = m.mains[0].found ? m.mains[0].hz : 0.0;
    reading->noise_dbfs =
        thrum_db_from_power(2.0 * m.noise_density * (THRUM_TONE_MAX_HZ - THRUM_TONE_MIN_HZ));
    reading->breath_db = m.breath_db;
    reading->breath_sd_db = m.breath_sd_db;
    struct thrum_trust_report trust;
    thrum_trust_report(l->trust, span.first, span.end, -1, &trust);
    reading->faults = m.faults | trust.faults | l->input_faults;
    if (lost_in(l, span.first, span.end))
        reading->faults |= THRUM_FAULT_LOST;
    if (in_doubt(l, span.first))
        reading->faults |= THRUM_FAULT_COUNT;
    struct thrum_rebound_value rebound;
    thrum_rebound_judge(l->rebound, span.end / (uint64_t)l->factor, &rebound);
    if (rebound.rides)
        reading->faults |= THRUM_FAULT_GAIN_RIDING;
    if (thrum_rate_made_at(reading->mains_hz, l->config.rate_hz) > 0.0)
        reading->faults |= THRUM_FAULT_RATE;
    return THRUM_OK;
}

double thrum_listener_bar_dbfs(const struct thrum_listener *listener, int sender)
{
    return listener->live ? thrum_live_bar_dbfs(listener->live, sender) : THRUM_FLOOR_DBFS;
}

void thrum_listener_now(const struct thrum_listener *listener, struct thrum_now *now)
{
    const struct thrum_listener *l = listener;
    uint64_t second = (uint64_t)l->config.rate_hz, since = 0;
    memset(now, 0, sizeof *now);
    for (int i = 0; i < THRUM_MAX_SENDERS; i++)
        now->bar_dbfs[i] = now->steady_dbfs[i] = now->best_dbfs[i] = THRUM_FLOOR_DBFS;
    now->hum_dbfs = now->peak_dbfs = THRUM_FLOOR_DBFS;
    now->frames = l->frames;
    now->channel = l->channel;
    now->bad_samples = l->bad_samples;
    struct thrum_trust_report trust;
    thrum_trust_report(l->trust, l->frames > second ? l->frames - second : 0, l->frames, -1, &trust);
    now->faults = trust.faults | l->input_faults;
    if (lost_in(l, l->frames > second ? l->frames - second : 0, l->frames))
        now->faults |= THRUM_FAULT_LOST;
    struct thrum_rebound_value rebound;
    thrum_rebound_judge(l->rebound, l->frames / (uint64_t)l->factor, &rebound);
    now->faults |= rebound.rides ? THRUM_FAULT_GAIN_RIDING : 0u;
    now->peak_dbfs = trust.frames > 0 ? trust.peak_dbfs : THRUM_FLOOR_DBFS;
    if (l->live)
        thrum_live_now(l->live, now);
    if (l->frames < second / 4)
        now->heard = THRUM_HEARD_NOTHING_YET;
    else if (now->faults & THRUM_FAULT_SILENT)
        now->heard = THRUM_HEARD_SILENCE;
    else if (now->faults & THRUM_FAULT_CLIPPED)
        now->heard = THRUM_HEARD_OVERLOAD;
    else if (now->peak_dbfs < LOW_DBFS)
        now->heard = THRUM_HEARD_TOO_LOW;
    now->on_wire = l->touches && thrum_touches_on_wire(l->touches, &since);
    now->on_wire_since = since * (uint64_t)l->factor;
}
