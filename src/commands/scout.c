/* Two ways at once: touches are found by what the hum does, without a voice, and each is looked at by itself; and where
 * the probe simply stays, windows of some seconds are. Without hum a touch that carries the tone is a part of a window. */
#include "commands/scout.h"

#include <stdlib.h>

#include "commands/kept.h"
#include "thrum/listen.h"

#define WINDOW_S   8.0
#define OVERLAP_S  3.0 /* windows share so much, lest a touch lies in two halves */
#define EDGE_S     0.1 /* left out at both ends of a touch: the probe was on its way */
#define SHORTEST_S 1.2
/* A voice as clear as this is as good as any. */
#define SURE_DB 15.0
/* Hum that comes and goes as the probe is lifted and put down repeats too, but slower than a sender's pattern that a touch
 * of a few seconds could be measured with. */
#define SLOWEST_CYCLE_S 4.0
#define SLOWEST_STEP_S  2.0
/* Touches of a beeping wire repeat too: a pattern of more beeps than this and a pause is no sender's. */
#define MOST_BEEPS 3
#define MOST_STEPS 6 /* of tones in turn: longer ones are data */

struct scout {
    struct kept kept;
    uint64_t window; /* frame at which the present window began */
    struct thrum_listener *listener;
    bool found;
    struct thrum_learned best;
};

enum thrum_status scout_create(double rate_hz, int channels, struct scout **scout)
{
    struct scout *made = calloc(1, sizeof *made);
    *scout = NULL;
    if (!made)
        return THRUM_ERR_MEM;
    made->best.what = THRUM_NOT_ENOUGH;
    struct thrum_listener_config config = {
        .rate_hz = rate_hz, .channels = channels, .channel = -1, .find_touches = true};
    enum thrum_status status = THRUM_ERR_MEM;
    if (kept_create(&made->kept, rate_hz, channels))
        status = thrum_listener_create(&config, &made->listener);
    if (status != THRUM_OK) {
        scout_destroy(made);
        return THRUM_ERR_MEM;
    }
    *scout = made;
    return THRUM_OK;
}

void scout_destroy(struct scout *scout)
{
    if (!scout)
        return;
    thrum_listener_destroy(scout->listener);
    kept_destroy(&scout->kept);
    free(scout);
}

bool scout_keep_better(struct thrum_learned *best, const struct thrum_learned *other)
{
    bool have = best->what == THRUM_VOICE_FOUND, found = other->what == THRUM_VOICE_FOUND;
    if (found ? !have || other->quality_db > best->quality_db : !have && other->what != THRUM_NOT_ENOUGH)
        *best = *other;
    return have || found;
}

static int beeps_in(const struct thrum_voice *voice)
{
    int n = 0;
    for (int i = 0; i < voice->n_steps; i++)
        n += voice->step[i].tone != THRUM_SILENCE;
    return n;
}

static void doubt(struct thrum_learned *learned)
{
    const struct thrum_voice *voice = &learned->voice;
    if (learned->what != THRUM_VOICE_FOUND)
        return;
    bool slow = thrum_voice_cycle_s(voice) > SLOWEST_CYCLE_S;
    for (int i = 0; i < voice->n_steps && voice->n_steps > 1; i++)
        slow = slow || voice->step[i].s > SLOWEST_STEP_S;
    bool many = voice->n_tones == 1 ? beeps_in(voice) > MOST_BEEPS : voice->n_steps > MOST_STEPS;
    if (slow || many)
        learned->what = THRUM_NOT_IRREGULAR;
}

static void judge(struct scout *scout, uint64_t first, uint64_t end)
{
    struct thrum_learned learned;
    if (!kept_learn(&scout->kept, first, end, SHORTEST_S, &learned))
        return;
    doubt(&learned);
    scout->found = scout_keep_better(&scout->best, &learned);
}

static void judge_touches(struct scout *scout)
{
    uint64_t edge = (uint64_t)(EDGE_S * scout->kept.rate_hz);
    struct thrum_span span;
    while (thrum_listener_next_touch(scout->listener, &span))
        if (span.end > edge)
            judge(scout, span.first + edge, span.end - edge);
}

/* The window up to now; the next one begins before its end. */
static void judge_window(struct scout *scout)
{
    uint64_t overlap = (uint64_t)(OVERLAP_S * scout->kept.rate_hz),
             length = scout->kept.frames - scout->window;
    judge(scout, scout->window, scout->kept.frames);
    scout->window = scout->kept.frames - (overlap < length / 2 ? overlap : length / 2);
}

void scout_feed(struct scout *scout, const float *samples, size_t n_frames)
{
    uint64_t window = (uint64_t)(WINDOW_S * scout->kept.rate_hz);
    size_t most = scout->kept.room / 8; /* in parts, so that a touch is still kept when it is found */
    window = window < scout->kept.room - most ? window : scout->kept.room - most;
    while (n_frames > 0) {
        uint64_t left = scout->window + window - scout->kept.frames;
        size_t n = n_frames < most ? n_frames : most;
        n = n < left ? n : (size_t)left;
        kept_add(&scout->kept, samples, n);
        thrum_listener_feed(scout->listener, samples, n);
        judge_touches(scout);
        if (scout->kept.frames == scout->window + window)
            judge_window(scout);
        samples += n * scout->kept.channels;
        n_frames -= n;
    }
}

void scout_finish(struct scout *scout)
{
    thrum_listener_finish(scout->listener);
    judge_touches(scout);
    if (scout->kept.frames > scout->window)
        judge_window(scout);
}

bool scout_is_sure(const struct scout *scout)
{
    return scout->found && scout->best.quality_db >= SURE_DB;
}

bool scout_best(const struct scout *scout, struct thrum_learned *learned)
{
    *learned = scout->best;
    return scout->found;
}
