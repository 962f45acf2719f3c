/* Two ways at once: touches are found by what the hum does, without a voice, and each is looked at by itself; and where
 * the probe simply stays, windows of some seconds are. */
#include "commands/scout.h"

#include <stdlib.h>
#include <string.h>

#include "thrum/listen.h"

#define WINDOW_S   8.0
#define KEEP_S     12.0               /* of a touch, at most */
#define KEEP_BYTES ((size_t)10 << 20) /* less when the sound has many samples */
#define EDGE_S     0.1                /* left out at both ends of a touch: the probe was on its way */
#define SHORTEST_S 1.2
/* A voice as clear as this is as good as any. */
#define SURE_DB 15.0
/* Hum that comes and goes as the probe is lifted and put down repeats too, but slower than a sender's pattern that a touch
 * of a few seconds could be measured with. */
#define SLOWEST_CYCLE_S 4.0
#define SLOWEST_STEP_S  2.0

struct scout {
    double rate_hz;
    size_t channels;
    struct thrum_learner *window; /* NULL when there was no memory for it */
    size_t window_fed;            /* frames */
    struct thrum_listener *listener;
    float *kept; /* the newest frames, a ring [room * channels] */
    size_t room;
    uint64_t frames; /* heard so far; the next one goes to frames % room */
    bool found;
    struct thrum_learned best;
};

static struct thrum_learner *new_learner(const struct scout *scout)
{
    struct thrum_learner *learner;
    thrum_learner_create(scout->rate_hz, (int)scout->channels, &learner);
    return learner;
}

enum thrum_status scout_create(double rate_hz, int channels, struct scout **scout)
{
    struct scout *made = calloc(1, sizeof *made);
    *scout = NULL;
    if (!made)
        return THRUM_ERR_MEM;
    made->rate_hz = rate_hz;
    made->channels = (size_t)channels;
    made->best.what = THRUM_NOT_ENOUGH;
    size_t frame = sizeof(float) * made->channels;
    made->room = (size_t)(KEEP_S * rate_hz);
    if (made->room > KEEP_BYTES / frame)
        made->room = KEEP_BYTES / frame;
    made->kept = malloc(frame * made->room);
    struct thrum_listener_config config = {
        .rate_hz = rate_hz, .channels = channels, .channel = -1, .find_touches = true};
    enum thrum_status status = made->kept ? thrum_listener_create(&config, &made->listener) : THRUM_ERR_MEM;
    made->window = new_learner(made);
    if (status != THRUM_OK || !made->window) {
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
    thrum_learner_destroy(scout->window);
    thrum_listener_destroy(scout->listener);
    free(scout->kept);
    free(scout);
}

bool scout_keep_better(struct thrum_learned *best, const struct thrum_learned *other)
{
    bool have = best->what == THRUM_VOICE_FOUND, found = other->what == THRUM_VOICE_FOUND;
    if (found ? !have || other->quality_db > best->quality_db : !have && other->what != THRUM_NOT_ENOUGH)
        *best = *other;
    return have || found;
}

static void doubt(struct thrum_learned *learned)
{
    if (learned->what != THRUM_VOICE_FOUND)
        return;
    bool slow = thrum_voice_cycle_s(&learned->voice) > SLOWEST_CYCLE_S;
    for (int i = 0; i < learned->voice.n_steps && learned->voice.n_steps > 1; i++)
        slow = slow || learned->voice.step[i].s > SLOWEST_STEP_S;
    if (slow)
        learned->what = THRUM_NOT_IRREGULAR;
}

static void judge(struct scout *scout, struct thrum_learner *learner)
{
    struct thrum_learned learned;
    thrum_learner_result(learner, &learned);
    doubt(&learned);
    scout->found = scout_keep_better(&scout->best, &learned);
}

static void judge_window(struct scout *scout)
{
    if (scout->window && scout->window_fed > 0)
        judge(scout, scout->window);
    thrum_learner_destroy(scout->window);
    scout->window = new_learner(scout);
    scout->window_fed = 0;
}

static void feed_window(struct scout *scout, const float *samples, size_t n_frames)
{
    size_t window = (size_t)(WINDOW_S * scout->rate_hz);
    while (n_frames > 0 && scout->window) {
        size_t n = window - scout->window_fed;
        n = n < n_frames ? n : n_frames;
        thrum_learner_feed(scout->window, samples, n);
        scout->window_fed += n;
        if (scout->window_fed == window)
            judge_window(scout);
        samples += n * scout->channels;
        n_frames -= n;
    }
}

static void keep(struct scout *scout, const float *samples, size_t n_frames)
{
    while (n_frames > 0) {
        size_t at = (size_t)(scout->frames % scout->room), n = scout->room - at;
        n = n < n_frames ? n : n_frames;
        memcpy(scout->kept + at * scout->channels, samples, sizeof(float) * n * scout->channels);
        scout->frames += n;
        samples += n * scout->channels;
        n_frames -= n;
    }
}

/* What is kept of a stretch, without its edges. */
static void judge_touch(struct scout *scout, struct thrum_span span)
{
    uint64_t edge = (uint64_t)(EDGE_S * scout->rate_hz), oldest = 0;
    if (scout->frames > scout->room)
        oldest = scout->frames - scout->room;
    uint64_t first = span.first + edge > oldest ? span.first + edge : oldest;
    uint64_t end = span.end > edge ? span.end - edge : 0;
    if (end > scout->frames || (double)end < (double)first + SHORTEST_S * scout->rate_hz)
        return;
    struct thrum_learner *learner = new_learner(scout);
    if (!learner)
        return;
    while (first < end) {
        size_t at = (size_t)(first % scout->room), n = scout->room - at;
        n = n < end - first ? n : (size_t)(end - first);
        thrum_learner_feed(learner, scout->kept + at * scout->channels, n);
        first += n;
    }
    judge(scout, learner);
    thrum_learner_destroy(learner);
}

static void judge_touches(struct scout *scout)
{
    struct thrum_span span;
    while (thrum_listener_next_touch(scout->listener, &span))
        judge_touch(scout, span);
}

void scout_feed(struct scout *scout, const float *samples, size_t n_frames)
{
    feed_window(scout, samples, n_frames);
    /* In parts, so that a touch is still kept when it is found. */
    size_t part = scout->room / 8;
    while (n_frames > 0) {
        size_t n = n_frames < part ? n_frames : part;
        keep(scout, samples, n);
        thrum_listener_feed(scout->listener, samples, n);
        judge_touches(scout);
        samples += n * scout->channels;
        n_frames -= n;
    }
}

void scout_finish(struct scout *scout)
{
    thrum_listener_finish(scout->listener);
    judge_touches(scout);
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
