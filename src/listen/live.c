#include "listen/live.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/bar.h"
#include "signal/ballistics.h"
#include "signal/clean.h"

enum { CHUNK = 512 };

#define LOOK_EACH_S 0.5 /* what is heard is judged so often... */
#define LOOK_S      2.0 /* ...over so much of the past, or two cycles */
#define LOOK_MOST_S 6.0
#define LEVEL_TAU_S 0.5 /* for hum_removed_db */

struct voice_bar {
    int n_tones;
    double tones_hz[THRUM_VOICE_TONES];
    struct thrum_bar tone[THRUM_VOICE_TONES];
    struct thrum_ballistics steady;
    double power;
};

struct thrum_live {
    double rate_hz, look_s;
    int n_voices;
    struct voice_bar voice[THRUM_MAX_SENDERS];
    struct thrum_touch_tools tools;
    struct thrum_clean *clean;
    struct thrum_ballistics before, after; /* level of the sound, hum in and out */
    uint64_t fed, look_at;
    enum thrum_heard heard;
    int heard_voice; /* the one to look for first */
    double other_s;  /* for so long nothing else was judged than another cadence */
    float cleaned[CHUNK];
};

static enum thrum_status make_clean(struct thrum_live *l, const struct thrum_voice *voices)
{
    struct thrum_clean_config config = thrum_clean_config_default(l->rate_hz);
    for (int i = 0; i < l->n_voices; i++)
        for (int k = 0; k < voices[i].n_tones; k++)
            config.tones_hz[config.n_tones++] = voices[i].tones_hz[k];
    return thrum_clean_create(&config, &l->clean);
}

enum thrum_status thrum_live_create(double rate_hz, const struct thrum_voice *voices, int n_voices,
                                    const struct thrum_touch_tools *tools, struct thrum_live **live)
{
    struct thrum_live *l = calloc(1, sizeof *l);
    *live = NULL;
    if (!l)
        return THRUM_ERR_MEM;
    l->rate_hz = rate_hz;
    l->n_voices = n_voices;
    l->tools = *tools;
    l->heard = THRUM_HEARD_NO_TONE;
    l->before = l->after = thrum_ballistics_start(rate_hz, LEVEL_TAU_S);
    l->look_at = (uint64_t)(LOOK_EACH_S * rate_hz);
    l->look_s = LOOK_S;
    for (int i = 0; i < n_voices; i++) {
        struct voice_bar *bar = &l->voice[i];
        bar->n_tones = voices[i].n_tones;
        for (int k = 0; k < bar->n_tones; k++)
            bar->tone[k] = thrum_bar_start(rate_hz, voices[i].tones_hz[k]);
        memcpy(bar->tones_hz, voices[i].tones_hz, sizeof bar->tones_hz);
        bar->steady = thrum_ballistics_start(rate_hz / bar->tone[0].bin_size, THRUM_BALLISTICS_F_S);
        l->look_s = fmin(fmax(l->look_s, 2.0 * thrum_voice_cycle_s(&voices[i])), LOOK_MOST_S);
    }
    enum thrum_status status = make_clean(l, voices);
    if (status) {
        thrum_live_destroy(l);
        return status;
    }
    *live = l;
    return THRUM_OK;
}

void thrum_live_destroy(struct thrum_live *live)
{
    if (!live)
        return;
    thrum_clean_destroy(live->clean);
    free(live);
}

void thrum_live_move(struct thrum_live *live, int voice, double first_tone_hz)
{
    struct voice_bar *bar = &live->voice[voice];
    double factor = first_tone_hz / bar->tones_hz[0];
    for (int k = 0; k < bar->n_tones; k++) {
        bar->tones_hz[k] *= factor;
        thrum_bar_move(&bar->tone[k], live->rate_hz, bar->tones_hz[k]);
    }
}

static void feed_bar(struct voice_bar *bar, const float *y, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        int full = 0;
        for (int k = 0; k < bar->n_tones; k++)
            full = thrum_bar_feed(&bar->tone[k], (double)y[i]);
        if (!full)
            continue;
        bar->power = 0.0;
        for (int k = 0; k < bar->n_tones; k++)
            bar->power += bar->tone[k].power;
        thrum_ballistics_step(&bar->steady, 0.5 * bar->power);
    }
}

/* A tone with another cadence is one that has had another for as long as is looked at. While the sender's own begins or ends, it lacks
 * its cadence in part of that: until it is known what it is, what was heard last stands. */
static enum thrum_heard judge(struct thrum_live *l, const struct thrum_clearest *clearest)
{
    bool tone = clearest->fit && clearest->strength.heard;
    bool other = !tone && clearest->notes.other_cadence;
    l->other_s = other ? l->other_s + LOOK_EACH_S : 0.0;
    if (other)
        return l->other_s >= l->look_s ? THRUM_HEARD_OTHER_CADENCE : l->heard;
    return tone ? THRUM_HEARD_TONE : THRUM_HEARD_NO_TONE;
}

/* What is in the last seconds, in one word; up to analysis sample `end`. */
static void look(struct thrum_live *l, const struct thrum_history *history, uint64_t end)
{
    uint64_t length = (uint64_t)(l->look_s * l->rate_hz), first = end > length ? end - length : 0;
    const float *x = thrum_history_part(history, &first);
    if (end <= first)
        return;
    struct thrum_clearest clearest = thrum_heard_in(&l->tools, x, (size_t)(end - first), l->heard_voice);
    l->heard_voice = clearest.voice;
    l->heard = judge(l, &clearest);
}

void thrum_live_feed(struct thrum_live *live, const struct thrum_history *history, const float *x, size_t n)
{
    struct thrum_live *l = live;
    while (n > 0) {
        size_t take = (size_t)(l->look_at - l->fed);
        take = take < CHUNK ? take : CHUNK;
        take = take < n ? take : n;
        thrum_clean_feed(l->clean, x, l->cleaned, take);
        thrum_ballistics_feed(&l->before, x, take);
        thrum_ballistics_feed(&l->after, l->cleaned, take);
        for (int i = 0; i < l->n_voices; i++)
            feed_bar(&l->voice[i], l->cleaned, take);
        l->fed += take;
        x += take;
        n -= take;
        if (l->fed == l->look_at) {
            look(l, history, l->fed);
            l->look_at += (uint64_t)(LOOK_EACH_S * l->rate_hz);
        }
    }
}

double thrum_live_bar_dbfs(const struct thrum_live *live, int voice)
{
    return voice < live->n_voices ? thrum_db_from_power(live->voice[voice].power) : THRUM_FLOOR_DBFS;
}

void thrum_live_now(const struct thrum_live *live, struct thrum_now *now)
{
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    for (int i = 0; i < live->n_voices; i++) {
        now->bar_dbfs[i] = thrum_live_bar_dbfs(live, i);
        now->steady_dbfs[i] = thrum_ballistics_dbfs(&live->voice[i].steady);
        now->best_dbfs[i] = thrum_ballistics_highest_dbfs(&live->voice[i].steady);
    }
    thrum_clean_mains(live->clean, mains);
    now->hum_dbfs = mains[0].found ? mains[0].dbfs : THRUM_FLOOR_DBFS;
    now->mains_hz = mains[0].found ? mains[0].hz : 0.0;
    now->hum_removed_db =
        fmax(thrum_ballistics_dbfs(&live->before) - thrum_ballistics_dbfs(&live->after), 0.0);
    now->heard = live->heard;
}
