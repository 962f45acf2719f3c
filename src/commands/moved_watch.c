#include "commands/moved_watch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands/moved.h"
#include "sound/message.h"
#include "thrum/learn.h"

#define KEEP_S     12.0               /* of sound: a touch of that length, at most, is looked at */
#define KEEP_BYTES ((size_t)10 << 20) /* less when the sound has many samples */
#define EDGE_S     0.1                /* left out at both ends of a touch: the probe was on its way */
/* Nearer than this to where it was heard last it has not moved, but is too weak in this touch. */
#define MOVED_SHARE 0.005
#define SUSPECT                                                                                              \
    2.0 /* evidence for a moved sender that is worth the search, which costs a tenth of a second */

struct moved_watch {
    struct thrum_voice voice, moved;
    double rate_hz;
    size_t channels;
    bool follow;
    double heard_hz;       /* the first tone, where it was heard last, or learned */
    int n_judged;          /* readings that were looked at */
    float *kept;           /* the newest frames, a ring [room * channels]: frame f is at f % room */
    size_t room;           /* frames */
    uint64_t frames, from; /* of the round: the next one, and the first since something was lost */
    char text[160], followed[160];
};

struct moved_watch *moved_watch_create(const struct thrum_voice *voice, double rate_hz, int channels,
                                       bool follow)
{
    struct moved_watch *watch = voice->steady ? NULL : calloc(1, sizeof *watch);
    if (!watch)
        return NULL;
    *watch = (struct moved_watch){.voice = *voice,
                                  .rate_hz = rate_hz,
                                  .channels = (size_t)channels,
                                  .follow = follow,
                                  .heard_hz = voice->tones_hz[0],
                                  .room = (size_t)(KEEP_S * rate_hz)};
    size_t frame = sizeof(float) * watch->channels;
    if (watch->room > KEEP_BYTES / frame)
        watch->room = KEEP_BYTES / frame;
    watch->kept = malloc(frame * watch->room);
    if (watch->kept)
        return watch;
    free(watch);
    return NULL;
}

void moved_watch_destroy(struct moved_watch *watch)
{
    if (watch)
        free(watch->kept);
    free(watch);
}

static void keep(struct moved_watch *watch, const float *samples, size_t frames, uint64_t lost)
{
    watch->frames += lost;
    if (lost > 0)
        watch->from = watch->frames;
    while (frames > 0) {
        size_t at = (size_t)(watch->frames % watch->room), n = watch->room - at;
        n = n < frames ? n : frames;
        memcpy(watch->kept + at * watch->channels, samples, sizeof(float) * n * watch->channels);
        watch->frames += n;
        samples += n * watch->channels;
        frames -= n;
    }
}

/* What is kept of a touch, without its edges. */
static void feed(const struct moved_watch *watch, const struct thrum_reading *reading,
                 struct thrum_learner *learner)
{
    uint64_t edge = (uint64_t)(EDGE_S * watch->rate_hz), first = reading->first_frame + edge;
    uint64_t end = reading->first_frame + reading->frames;
    uint64_t oldest = watch->frames > watch->room ? watch->frames - watch->room : 0;
    oldest = oldest > watch->from ? oldest : watch->from;
    first = first > oldest ? first : oldest;
    end = end < watch->frames ? end : watch->frames;
    while (first + edge < end) {
        size_t at = (size_t)(first % watch->room), n = watch->room - at;
        n = n < end - edge - first ? n : (size_t)(end - edge - first);
        thrum_learner_feed(learner, watch->kept + at * watch->channels, n);
        first += n;
    }
}

static bool is_elsewhere(struct moved_watch *watch, const struct thrum_reading *reading)
{
    struct thrum_learned learned;
    struct thrum_learner *learner;
    if (thrum_learner_create(watch->rate_hz, (int)watch->channels, &learner) != THRUM_OK)
        return false;
    feed(watch, reading, learner);
    bool found = thrum_learner_result(learner, &learned) == THRUM_OK &&
                 moved_voice(&watch->voice, &learned.voice, &watch->moved) &&
                 fabs(watch->moved.tones_hz[0] / watch->heard_hz - 1.0) > MOVED_SHARE;
    thrum_learner_destroy(learner);
    return found;
}

static bool heard_before(const struct thrum_snapshot *snapshot)
{
    for (int i = 0; i < snapshot->n_readings; i++)
        if (snapshot->readings[i].strength[0].heard)
            return true;
    return false;
}

static void judge(struct moved_watch *watch, struct thrum_round *round, const struct thrum_snapshot *seen,
                  struct thrum_message *message)
{
    const struct thrum_strength *last = &seen->readings[seen->n_readings - 1].strength[0];
    if (last->heard) {
        watch->heard_hz = last->tone_hz;
        watch->text[0] = 0;
    } else if (thrum_round_elsewhere(round, seen->n_readings - 1, MOVED_FARTHEST) > SUSPECT &&
               is_elsewhere(watch, &seen->readings[seen->n_readings - 1])) {
        moved_text(&watch->voice, &watch->moved, watch->text, sizeof watch->text);
        if (watch->follow && !heard_before(seen) && moved_watch_follow(watch, round) == THRUM_OK)
            message_set(message, "SENDER MOVED: %s; measured there from here on", watch->followed);
    }
}

void moved_watch_hear(struct moved_watch *watch, struct thrum_round *round, struct thrum_snapshot *seen,
                      const float *samples, size_t frames, uint64_t lost, struct thrum_message *message)
{
    int n = thrum_round_n_readings(round);
    bool measured = n > watch->n_judged;
    keep(watch, samples, frames, lost);
    watch->n_judged = n;
    if (!measured)
        return;
    thrum_round_snapshot(round, seen);
    judge(watch, round, seen, message);
}

const char *moved_watch_text(const struct moved_watch *watch)
{
    return watch->text;
}

enum thrum_status moved_watch_follow(struct moved_watch *watch, struct thrum_round *round)
{
    if (!watch->text[0])
        return THRUM_ERR_NOT_FOUND;
    memcpy(watch->followed, watch->text, sizeof watch->followed);
    watch->text[0] = 0;
    watch->heard_hz = watch->moved.tones_hz[0];
    return thrum_round_aim(round, watch->moved.tones_hz[0]);
}

const char *moved_watch_followed(const struct moved_watch *watch)
{
    return watch->followed;
}
