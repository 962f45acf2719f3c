#include "listen/hunt.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "listen/notvoice.h"
#include "signal/beeps.h"
#include "signal/edgefit.h"
#include "signal/humtake.h"
#include "signal/mains.h"
#include "signal/segment.h"
#include "signal/shorttime.h"
#include "signal/strength.h"
#include "signal/tonefind.h"
#include "signal/touchfit.h"
#include "thrum/units.h"

#define LEAST_S         1.0  /* less is not enough */
#define SHORTEST_S      0.04 /* shortest beep and pause; a margin is taken off for the measuring */
#define ALTERNATE_S     0.02 /* shortest of alternating tones */
#define MARGIN          0.9  /* of these */
#define BEYOND_HZ       10.0 /* a tone is looked for so far beyond what is allowed */
#define QUALITY_DB      10.0 /* a voice stands out at least so far */
#define SURE_DB         12.0 /* a voice so clear is not looked for any further */
#define UNEVEN          0.4 /* beeps of a sender are alike: a hand moves them by 2 dB, notes and syllables fade */
#define LOUD_PAUSE      0.25 /* of a beep's power, and... */
#define LOUD_PAUSE_OVER 3.0  /* ...of what is beside the tone in a beep */
#define STEADY_DB       15.0 /* a steady tone must stand out farther */
#define DEAD_S          0.02 /* of digital silence at an end is left out */
#define PART_S          2.0  /* a voice heard only for a while is heard for so long at least, ... */
#define PART_CYCLES     2.9  /* ...so often, ... */
#define PART_SHARE      0.8  /* ...and this share of all beeps of the tone is like its own */

enum { RUNS = 2048, PART_RUNS = 256, WINDOWS = 3, HUM_PASSES = 2 };

/* The second is for beeps that the first smears into each other, the third for tones beside loud hum or beside each other. */
static const double window_s[WINDOWS] = {0.064, 0.024, 0.128}, hop_s[WINDOWS] = {0.008, 0.003, 0.016};
static const double shortest_s[WINDOWS] = {0.0, 0.0, 0.128}; /* what they smear may be missed elsewhere */

struct thrum_hunt {
    double rate_hz;
    size_t n_max, n;
    const float *x;         /* the sound */
    float *clean;           /* [n_max] hum taken out */
    float *heard;           /* [n_max] the voice taken out */
    struct thrum_run *runs; /* [RUNS] */
    struct thrum_mains *mains;
    struct thrum_humtake *humtake;
    struct thrum_shorttime *shorttime[WINDOWS];
    struct thrum_hum_source hum[THRUM_MAINS_MAX];
    int n_hum;
    double part_from_s, part_to_s; /* the longest part of the sound that repeats */
    bool too_fast, too_short, no_memory;
};

enum thrum_status thrum_hunt_create(double rate_hz, size_t n_max, struct thrum_hunt **hunt)
{
    *hunt = NULL;
    struct thrum_hunt *h = calloc(1, sizeof *h);
    if (!h)
        return THRUM_ERR_MEM;
    h->rate_hz = rate_hz;
    h->n_max = n_max;
    enum thrum_status status = thrum_mains_create(rate_hz, &h->mains);
    if (!status)
        status = thrum_humtake_create(rate_hz, n_max, &h->humtake);
    for (int i = 0; i < WINDOWS && !status; i++)
        status = thrum_shorttime_create(rate_hz, window_s[i], hop_s[i], 3500.0, (double)n_max / rate_hz,
                                        &h->shorttime[i]);
    h->clean = calloc(n_max, sizeof *h->clean);
    h->heard = calloc(n_max, sizeof *h->heard);
    h->runs = calloc(RUNS, sizeof *h->runs);
    if (!status && (!h->clean || !h->heard || !h->runs))
        status = THRUM_ERR_MEM;
    if (status)
        goto fail;
    *hunt = h;
    return THRUM_OK;
fail:
    thrum_hunt_destroy(h);
    return status;
}

void thrum_hunt_destroy(struct thrum_hunt *hunt)
{
    if (!hunt)
        return;
    for (int i = 0; i < WINDOWS; i++)
        thrum_shorttime_destroy(hunt->shorttime[i]);
    thrum_mains_destroy(hunt->mains);
    thrum_humtake_destroy(hunt->humtake);
    free(hunt->clean);
    free(hunt->heard);
    free(hunt->runs);
    free(hunt);
}

/* Hum as the fits want it: the frequency in the middle of all samples. */
static void find_hum(struct thrum_hunt *h, double *mains_hz)
{
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    double length = (double)h->n / h->rate_hz, looked_at = fmin(length, THRUM_MAINS_MEASURE_S);
    h->n_hum = 0;
    thrum_mains_measure(h->mains, h->x, h->n, mains);
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        if (mains[i].found)
            h->hum[h->n_hum++] =
                (struct thrum_hum_source){mains[i].hz - mains[i].slope_hz_per_s * 0.5 * (length - looked_at),
                                          mains[i].slope_hz_per_s, mains[i].wander_hz, false};
    *mains_hz = h->n_hum ? mains[0].hz : 0.0;
}

static bool good(const struct thrum_voice *voice)
{
    return thrum_voice_check(voice, NULL) == THRUM_OK;
}

/* Shorter steps than can be timed? Alternating tones may be shorter, but not their pauses. */
static bool too_fast(const struct thrum_voice *voice)
{
    for (int i = 0; i < voice->n_steps; i++) {
        bool alone = voice->n_tones < 2 || voice->step[i].tone == THRUM_SILENCE;
        if (voice->step[i].s < MARGIN * (alone ? SHORTEST_S : ALTERNATE_S))
            return true;
    }
    return false;
}

/* The hum beside the tone fitted too: for a voice of one tone. What is learned is what the fit says. */
static void fit_with_hum(struct thrum_hunt *h, const struct thrum_edgefit_result *edges,
                         struct thrum_learned *learned)
{
    struct thrum_touchfit *fit = NULL;
    if (thrum_touchfit_create(h->rate_hz, &edges->voice, &fit)) {
        h->no_memory = true; /* the voice has been checked, so it is nothing else */
        return;
    }
    struct thrum_lock_state from = {
        .timing = {.start_s = edges->start_s + 0.5 * (double)h->n / h->rate_hz, .scale = 1.0},
        .slope_hz_per_s = edges->slope_hz_per_s};
    struct thrum_touchfit_job job = {
        .x = h->x, .n = h->n, .hum = h->hum, .n_hum = h->n_hum, .from = &from, .free_steps = true};
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

/* Edges and tones, then the hum measured beside them and taken out, and again. `x` is the sound or `clean`. */
static enum thrum_status fit_edges(struct thrum_hunt *h, struct thrum_edgefit *fit, const float *x,
                                   const struct thrum_voice *coarse, double begin_s,
                                   struct thrum_edgefit_result *edges)
{
    bool cleaned = x == h->clean;
    enum thrum_status status = thrum_edgefit_run(fit, x, h->n, coarse, begin_s, edges);
    for (int pass = 0; pass < HUM_PASSES && h->n_hum > 0 && !status; pass++) {
        double cycle_s = thrum_voice_cycle_s(&edges->voice);
        struct thrum_voice voice = edges->voice;
        const float *rest = thrum_edgefit_rest(fit);
        for (size_t i = 0; i < h->n; i++) /* the sound without the voice, its hum put back */
            h->heard[i] = rest[i] + (cleaned ? h->x[i] - h->clean[i] : 0.0f);
        memcpy(h->clean, h->x, h->n * sizeof *h->clean);
        thrum_humtake_run(h->humtake, h->heard, h->clean, h->n, h->hum, h->n_hum);
        cleaned = true;
        status = thrum_edgefit_run(fit, h->clean, h->n, &voice, cycle_s - edges->start_s, edges);
    }
    return status;
}

/*
 * Is there much more beside the voice in its pauses than in its beeps? Then it is not silent there: what was heard
 * is a moment of something longer, as when a siren turns.
 */
static bool pauses_are_loud(const struct thrum_hunt *h, const float *rest,
                            const struct thrum_edgefit_result *edges)
{
    struct thrum_timing timing = {.start_s = edges->start_s, .scale = 1.0};
    double in_beeps = 0.0, in_pauses = 0.0, on = 0.0, off = 0.0, t = 0.0, length = (double)h->n / h->rate_hz;
    double beep = thrum_power_from_db(edges->voice.level_dbfs) * 0.5; /* mean square */
    while (t < length) {
        struct thrum_beep next;
        int n = thrum_beeps_list(&edges->voice, &timing, t, length, 1e9, &next, 1);
        double from = n ? next.from_s : length, to = n ? next.to_s : length;
        for (size_t i = (size_t)(t * h->rate_hz); i < (size_t)(from * h->rate_hz) && i < h->n;
             i++, off += 1.0)
            in_pauses += (double)rest[i] * (double)rest[i];
        for (size_t i = (size_t)(from * h->rate_hz); i < (size_t)(to * h->rate_hz) && i < h->n;
             i++, on += 1.0)
            in_beeps += (double)rest[i] * (double)rest[i];
        t = fmax(to, t + 1e-3);
    }
    if (off < 1.0 || on < 1.0)
        return false;
    return in_pauses / off > LOUD_PAUSE * beep && in_pauses / off > LOUD_PAUSE_OVER * in_beeps / on;
}

/* A tone at the limit of what is allowed may be read a little beyond it. */
static void keep_within(struct thrum_voice *voice)
{
    for (int k = 0; k < voice->n_tones; k++) {
        double hz = fmin(fmax(voice->tones_hz[k], THRUM_TONE_MIN_HZ), THRUM_TONE_MAX_HZ);
        if (fabs(voice->tones_hz[k] - hz) < BEYOND_HZ)
            voice->tones_hz[k] = hz;
    }
}

/* The exact fits, from what the look saw. Leaves `clean` changed. */
static bool refine(struct thrum_hunt *h, const float *x, const struct thrum_voice *coarse, double begin_s,
                   struct thrum_learned *learned)
{
    struct thrum_edgefit *fit = NULL;
    struct thrum_edgefit_result edges;
    if (thrum_edgefit_create(h->rate_hz, h->n, coarse->n_tones, &fit)) {
        h->no_memory = true;
        return false;
    }
    enum thrum_status status = fit_edges(h, fit, x, coarse, begin_s, &edges);
    struct thrum_voice voice = edges.voice;
    double least_s = fmax(0.004, 3.0 * voice.spread_s);
    if (!status && thrum_pattern_reduce(&voice, least_s)) /* the look saw two of them as one */
        status = fit_edges(h, fit, h->n_hum > 0 ? h->clean : x, &voice,
                           thrum_voice_cycle_s(&edges.voice) - edges.start_s, &edges);
    bool loud = !status && pauses_are_loud(h, thrum_edgefit_rest(fit), &edges);
    thrum_edgefit_destroy(fit);
    keep_within(&edges.voice);
    if (status || loud || edges.unevenness > UNEVEN || !good(&edges.voice))
        return false;
    learned->voice = edges.voice;
    learned->quality_db = edges.quality_db;
    if (coarse->n_tones == 1 && !coarse->steady)
        fit_with_hum(h, &edges, learned);
    keep_within(&learned->voice);
    return true;
}

/*
 * Lines of two mains beat, and the beat keeps time like a sender. Such a voice is none to the measure of a touch, which knows the
 * lines and takes them out together with the beeps.
 */
static bool is_beat(struct thrum_hunt *h, const struct thrum_voice *voice)
{
    struct thrum_touchfit *fit = NULL;
    struct thrum_strength strength = {.heard = true};
    if (h->n_hum < 2)
        return false;
    if (thrum_touchfit_create(h->rate_hz, voice, &fit)) {
        h->no_memory = true; /* the voice has been checked, so it is nothing else */
        return true;
    }
    struct thrum_touchfit_job job = {.x = h->x, .n = h->n, .hum = h->hum, .n_hum = h->n_hum};
    thrum_strength_judge(thrum_touchfit_run(fit, &job), &strength, NULL);
    thrum_touchfit_destroy(fit);
    return !strength.heard;
}

static struct thrum_voice voice_of(const struct thrum_pattern *pattern, const struct thrum_keyed *tones,
                                   int n_tones)
{
    struct thrum_voice voice = {
        .name = "a", .n_tones = n_tones, .n_steps = pattern->n_steps, .level_dbfs = THRUM_FLOOR_DBFS};
    for (int k = 0; k < n_tones; k++)
        voice.tones_hz[k] = tones[k].hz;
    memcpy(voice.step, pattern->step, sizeof voice.step);
    keep_within(&voice);
    return voice;
}

/* Share of all beeps that are like one of the pattern's; those beside a longer pause than it has may be cut. */
static double share_alike(const struct thrum_run *runs, int n, const struct thrum_pattern *pattern,
                          const struct thrum_pattern_limits *limits)
{
    int beeps = 0, like = 0;
    double pause = 0.0;
    for (int j = 0; j < pattern->n_steps; j++)
        pause = fmax(pause, pattern->step[j].tone == THRUM_SILENCE ? pattern->step[j].s : 0.0);
    for (int i = 1; i < n - 1; i++) {
        double s = runs[i].to_s - runs[i].from_s;
        double beside = fmax(runs[i].from_s - runs[i - 1].from_s, runs[i + 1].to_s - runs[i].to_s);
        bool is = false, cut = beside > 1.3 * pause + limits->tolerance_s;
        if (runs[i].tone == THRUM_SILENCE || (cut && pause > 0.0))
            continue;
        for (int j = 0; j < pattern->n_steps; j++)
            is |= pattern->step[j].tone == runs[i].tone &&
                  fabs(pattern->step[j].s - s) <= fmax(limits->tolerance_s, limits->tolerance * s);
        beeps++;
        like += is;
    }
    return beeps ? (double)like / beeps : 0.0;
}

/* The probe came late, or left early: the longest part that repeats is kept, to be heard by itself. */
static void note_part(struct thrum_hunt *h, int n, const struct thrum_pattern_limits *limits)
{
    struct thrum_pattern pattern;
    for (int i = 0; i < n && n <= PART_RUNS; i++) {
        bool found = false;
        for (int to = i + 4; to <= n && (found || to <= i + 2 * THRUM_VOICE_STEPS); to++) {
            double s = h->runs[to - 1].to_s - h->runs[i].from_s;
            bool fits = thrum_pattern_find(h->runs + i, to - i, limits, &pattern) == THRUM_PATTERN_FOUND;
            if (found && !fits)
                break;
            found = fits;
            if (!fits || s < PART_S || pattern.cycles < PART_CYCLES || s <= h->part_to_s - h->part_from_s ||
                share_alike(h->runs, n, &pattern, limits) < PART_SHARE)
                continue;
            h->part_from_s = h->runs[i].from_s;
            h->part_to_s = h->runs[to - 1].to_s;
        }
    }
}

/* One look at a sound with windows of one length. */
static bool look(struct thrum_hunt *h, const float *x, int w, struct thrum_learned *learned)
{
    struct thrum_shorttime *sound = h->shorttime[w];
    struct thrum_keyed found[THRUM_TONEFIND_MAX], tones[THRUM_VOICE_TONES];
    struct thrum_pattern_limits limits = {.tolerance_s = fmax(0.006, 0.2 * window_s[w]), .tolerance = 0.06};
    struct thrum_pattern pattern;
    thrum_shorttime_run(sound, x, h->n);
    int n_found =
        thrum_tonefind_list(sound, THRUM_TONE_MIN_HZ - BEYOND_HZ, THRUM_TONE_MAX_HZ + BEYOND_HZ, found);
    int n_tones = thrum_tonefind_choose(sound, found, n_found, tones, THRUM_VOICE_TONES);
    if (n_tones < 1)
        return false;
    int n_runs = thrum_segment_cut(sound, tones, n_tones, 0.25 * window_s[w], h->runs, RUNS);
    enum thrum_pattern_found repeats = thrum_pattern_find(h->runs, n_runs, &limits, &pattern);
    bool beats = h->n_hum > 1 && x != h->clean; /* so do two mains, as they came */
    h->too_short |= repeats == THRUM_PATTERN_TOO_SHORT && !beats;
    if (repeats != THRUM_PATTERN_FOUND) {
        note_part(h, n_runs, &limits);
        return false;
    }
    struct thrum_voice voice = voice_of(&pattern, tones, n_tones);
    if (thrum_beeps_shortest_s(&voice) < shortest_s[w])
        return false;
    if (too_fast(&voice)) {
        h->too_fast |= !beats;
        return false;
    }
    if (!good(&voice) || !refine(h, x, &voice, pattern.start_s, learned) || learned->quality_db < QUALITY_DB)
        return false;
    h->too_fast |= too_fast(&learned->voice) && !beats;
    return !too_fast(&learned->voice) && !is_beat(h, &learned->voice);
}

static bool on_hum(const struct thrum_hunt *h, double hz)
{
    for (int i = 0; i < h->n_hum; i++) {
        double number = nearbyint(hz / h->hum[i].hz);
        if (fabs(hz - number * h->hum[i].hz) < 0.5 + 0.05 * number)
            return true;
    }
    return false;
}

/* A tone without a pause, in spectra of the cleaned sound. */
static bool look_for_steady(struct thrum_hunt *h, struct thrum_learned *learned)
{
    struct thrum_keyed tone;
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .n_steps = 1, .steady = true};
    if (!thrum_tonefind_steady(h->shorttime[0], THRUM_TONE_MIN_HZ, THRUM_TONE_MAX_HZ, &tone))
        return false;
    voice.tones_hz[0] = tone.hz;
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = 1.0};
    if (!refine(h, h->clean, &voice, 0.0, learned) || learned->quality_db < STEADY_DB)
        return false;
    bool hum = on_hum(h, learned->voice.tones_hz[0]);
    for (int i = 0; i < h->n_hum && !hum; i++)
        hum = thrum_notvoice_beside_hum(h->clean, h->n, h->rate_hz, learned->voice.tones_hz[0], h->hum[i].hz);
    if (hum)
        learned->what = THRUM_NOT_HUM;
    return !hum;
}

static void clean_all(struct thrum_hunt *h)
{
    memcpy(h->clean, h->x, h->n * sizeof *h->clean);
    thrum_humtake_run(h->humtake, h->x, h->clean, h->n, h->hum, h->n_hum);
}

/* With the hum as it came and without it, with long windows and short ones, until the voice is clear. */
static bool look_all_ways(struct thrum_hunt *h, struct thrum_learned *best)
{
    bool found = false;
    for (int way = 0; way < 2 * WINDOWS && !(found && best->quality_db >= SURE_DB); way++) {
        struct thrum_learned now = *best;
        bool cleaned = way % 2 == 1;
        if (cleaned && h->n_hum == 0)
            continue;
        if (cleaned)
            clean_all(h);
        if (look(h, cleaned ? h->clean : h->x, way / 2, &now) &&
            (!found || now.quality_db > best->quality_db)) {
            *best = now;
            found = true;
        }
    }
    return found;
}

/* No cadence: then what is it? Perhaps a tone without a pause. */
static void tell_or_take_steady(struct thrum_hunt *h, struct thrum_learned *learned)
{
    clean_all(h);
    thrum_shorttime_run(h->shorttime[0], h->clean, h->n);
    thrum_shorttime_run(h->shorttime[1], h->clean, h->n);
    struct thrum_notvoice_facts facts = {.rate_hz = h->rate_hz,
                                         .x = h->x,
                                         .clean = h->clean,
                                         .n = h->n,
                                         .sound = h->shorttime[0],
                                         .quick = h->shorttime[1],
                                         .n_hum = h->n_hum,
                                         .too_fast = h->too_fast,
                                         .too_short = h->too_short};
    learned->what = thrum_notvoice_tell(&facts);
    bool may_be_steady = learned->what != THRUM_NOT_SILENCE && learned->what != THRUM_NOT_CLICKS &&
                         learned->what != THRUM_NOT_SWEEPING && learned->what != THRUM_NOT_TOO_FAST;
    if (may_be_steady && look_for_steady(h, learned))
        learned->what = THRUM_VOICE_FOUND;
}

/* The same in the part that repeats; the sound is as before when there is no voice in it. */
static bool look_at_part(struct thrum_hunt *h, struct thrum_learned *learned)
{
    const float *whole = h->x;
    size_t n = h->n, from = (size_t)(fmax(h->part_from_s, 0.0) * h->rate_hz),
           to = (size_t)(h->part_to_s * h->rate_hz);
    to = to < n ? to : n;
    if (h->part_to_s - h->part_from_s < PART_S || to <= from)
        return false;
    h->x = whole + from;
    h->n = to - from;
    find_hum(h, &learned->mains_hz);
    if (look_all_ways(h, learned))
        return true;
    h->x = whole;
    h->n = n;
    find_hum(h, &learned->mains_hz);
    return false;
}

/* An input that delivers nothing at first, or no more at the end: that is no pause of the sender's. */
static void leave_out_dead_ends(struct thrum_hunt *h)
{
    size_t first = 0, end = h->n, least = (size_t)(DEAD_S * h->rate_hz);
    while (first + 1 < end && h->x[first + 1] == h->x[0])
        first++;
    while (end > first + 1 && h->x[end - 2] == h->x[h->n - 1])
        end--;
    first = first < least ? 0 : first;
    end = h->n - end < least ? h->n : end;
    if ((double)(end - first) < LEAST_S * h->rate_hz)
        return;
    h->x += first;
    h->n = end - first;
}

enum thrum_status thrum_hunt_run(struct thrum_hunt *hunt, const float *x, size_t n,
                                 struct thrum_learned *learned)
{
    struct thrum_hunt *h = hunt;
    *learned = (struct thrum_learned){.what = THRUM_NOT_ENOUGH, .quality_db = THRUM_FLOOR_DBFS};
    h->x = x;
    h->n = n < h->n_max ? n : h->n_max;
    leave_out_dead_ends(h);
    h->too_fast = h->too_short = h->no_memory = false;
    h->part_from_s = h->part_to_s = 0.0;
    if ((double)n < LEAST_S * h->rate_hz)
        return THRUM_ERR_NOT_FOUND;
    find_hum(h, &learned->mains_hz);
    thrum_shorttime_run(h->shorttime[0], h->x, h->n);
    if (!thrum_notvoice_sweeps(h->shorttime[0]) && (look_all_ways(h, learned) || look_at_part(h, learned)))
        learned->what = THRUM_VOICE_FOUND;
    else
        tell_or_take_steady(h, learned);
    if (h->no_memory)
        return THRUM_ERR_MEM;
    return learned->what == THRUM_VOICE_FOUND ? THRUM_OK : THRUM_ERR_NOT_FOUND;
}
