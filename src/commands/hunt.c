/* The probe rests a few seconds on each wire, so the voice is looked for in short windows; two learners take turns,
 * half a window apart, so that a touch cut in two by one lies whole in the other. */
#include "commands/hunt.h"

#include <stdlib.h>

#define WINDOW_S 8.0
#define LEARNERS 2
/* A voice as clear as this is as good as any. */
#define SURE_DB         15.0
#define SLOWEST_CYCLE_S 4.0
#define SLOWEST_STEP_S  2.0

struct hunt {
    double rate_hz;
    int channels;
    size_t window; /* frames */
    struct thrum_learner *learner[LEARNERS];
    size_t fed[LEARNERS]; /* frames in each */
    size_t delay;         /* frames until the second one starts */
    bool found;
    struct thrum_learned best;
};

static bool renew(struct hunt *hunt, int i)
{
    thrum_learner_destroy(hunt->learner[i]);
    hunt->learner[i] = NULL;
    hunt->fed[i] = 0;
    return thrum_learner_create(hunt->rate_hz, hunt->channels, &hunt->learner[i]) == THRUM_OK;
}

enum thrum_status hunt_create(double rate_hz, int channels, struct hunt **hunt)
{
    struct hunt *made = calloc(1, sizeof *made);
    *hunt = NULL;
    if (!made)
        return THRUM_ERR_MEM;
    made->rate_hz = rate_hz;
    made->channels = channels;
    made->window = (size_t)(WINDOW_S * rate_hz);
    made->delay = made->window / LEARNERS;
    made->best.what = THRUM_NOT_ENOUGH;
    for (int i = 0; i < LEARNERS; i++) {
        if (!renew(made, i)) {
            hunt_destroy(made);
            return THRUM_ERR_MEM;
        }
    }
    *hunt = made;
    return THRUM_OK;
}

void hunt_destroy(struct hunt *hunt)
{
    if (!hunt)
        return;
    for (int i = 0; i < LEARNERS; i++)
        thrum_learner_destroy(hunt->learner[i]);
    free(hunt);
}

bool hunt_keep_better(struct thrum_learned *best, const struct thrum_learned *other)
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

static void judge(struct hunt *hunt, int i)
{
    struct thrum_learned learned;
    if (!hunt->learner[i] || hunt->fed[i] == 0)
        return;
    thrum_learner_result(hunt->learner[i], &learned);
    doubt(&learned);
    hunt->found = hunt_keep_better(&hunt->best, &learned);
    renew(hunt, i);
}

static void feed_one(struct hunt *hunt, int i, const float *samples, size_t n_frames)
{
    while (n_frames > 0 && hunt->learner[i]) {
        size_t n = hunt->window - hunt->fed[i];
        n = n < n_frames ? n : n_frames;
        thrum_learner_feed(hunt->learner[i], samples, n);
        hunt->fed[i] += n;
        if (hunt->fed[i] == hunt->window)
            judge(hunt, i);
        samples += n * (size_t)hunt->channels;
        n_frames -= n;
    }
}

void hunt_feed(struct hunt *hunt, const float *samples, size_t n_frames)
{
    feed_one(hunt, 0, samples, n_frames);
    size_t skip = hunt->delay < n_frames ? hunt->delay : n_frames;
    hunt->delay -= skip;
    feed_one(hunt, 1, samples + skip * (size_t)hunt->channels, n_frames - skip);
}

void hunt_finish(struct hunt *hunt)
{
    for (int i = 0; i < LEARNERS; i++)
        judge(hunt, i);
}

bool hunt_is_sure(const struct hunt *hunt)
{
    return hunt->found && hunt->best.quality_db >= SURE_DB;
}

bool hunt_best(const struct hunt *hunt, struct thrum_learned *learned)
{
    *learned = hunt->best;
    return hunt->found;
}
