/* The probe rests a few seconds on each wire, so the voice is looked for in short windows; two learners take turns,
 * half a window apart, so that a touch cut in two by one lies whole in the other. */
#include "commands/scout.h"

#include <stdlib.h>

#define WINDOW_S 8.0
#define LEARNERS 2
/* A voice as clear as this is as good as any. */
#define SURE_DB         15.0
#define SLOWEST_CYCLE_S 4.0
#define SLOWEST_STEP_S  2.0

struct scout {
    double rate_hz;
    int channels;
    size_t window; /* frames */
    struct thrum_learner *learner[LEARNERS];
    size_t fed[LEARNERS]; /* frames in each */
    size_t delay;         /* frames until the second one starts */
    bool found;
    struct thrum_learned best;
};

static bool renew(struct scout *scout, int i)
{
    thrum_learner_destroy(scout->learner[i]);
    scout->learner[i] = NULL;
    scout->fed[i] = 0;
    return thrum_learner_create(scout->rate_hz, scout->channels, &scout->learner[i]) == THRUM_OK;
}

enum thrum_status scout_create(double rate_hz, int channels, struct scout **scout)
{
    struct scout *made = calloc(1, sizeof *made);
    *scout = NULL;
    if (!made)
        return THRUM_ERR_MEM;
    made->rate_hz = rate_hz;
    made->channels = channels;
    made->window = (size_t)(WINDOW_S * rate_hz);
    made->delay = made->window / LEARNERS;
    made->best.what = THRUM_NOT_ENOUGH;
    for (int i = 0; i < LEARNERS; i++) {
        if (!renew(made, i)) {
            scout_destroy(made);
            return THRUM_ERR_MEM;
        }
    }
    *scout = made;
    return THRUM_OK;
}

void scout_destroy(struct scout *scout)
{
    if (!scout)
        return;
    for (int i = 0; i < LEARNERS; i++)
        thrum_learner_destroy(scout->learner[i]);
    free(scout);
}

bool scout_keep_better(struct thrum_learned *best, const struct thrum_learned *other)
{
    bool have = best->what == THRUM_VOICE_FOUND, found = other->what == THRUM_VOICE_FOUND;
    if (found ? !have || other->quality_db > best->quality_db : !have && other->what != THRUM_NOT_ENOUGH)
        *best = *other;
    return have || found;
}

/* Hum that comes and goes as the probe is lifted and put down repeats too, but slower than a sender's pattern that a
 * touch of a few seconds could be measured with. */
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

static void judge(struct scout *scout, int i)
{
    struct thrum_learned learned;
    if (!scout->learner[i] || scout->fed[i] == 0)
        return;
    thrum_learner_result(scout->learner[i], &learned);
    doubt(&learned);
    scout->found = scout_keep_better(&scout->best, &learned);
    renew(scout, i);
}

static void feed_one(struct scout *scout, int i, const float *samples, size_t n_frames)
{
    while (n_frames > 0 && scout->learner[i]) {
        size_t n = scout->window - scout->fed[i];
        n = n < n_frames ? n : n_frames;
        thrum_learner_feed(scout->learner[i], samples, n);
        scout->fed[i] += n;
        if (scout->fed[i] == scout->window)
            judge(scout, i);
        samples += n * (size_t)scout->channels;
        n_frames -= n;
    }
}

void scout_feed(struct scout *scout, const float *samples, size_t n_frames)
{
    feed_one(scout, 0, samples, n_frames);
    size_t skip = scout->delay < n_frames ? scout->delay : n_frames;
    scout->delay -= skip;
    feed_one(scout, 1, samples + skip * (size_t)scout->channels, n_frames - skip);
}

void scout_finish(struct scout *scout)
{
    for (int i = 0; i < LEARNERS; i++)
        judge(scout, i);
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
