#include "commands/moved_watch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands/kept.h"
#include "commands/moved.h"
#include "sound/message.h"

#define EDGE_S 0.1 /* left out at both ends of a touch: the probe was on its way */
/* Nearer than this to where it was heard last it has not moved, but is too weak in this touch. */
#define MOVED_SHARE 0.005
/* Evidence for a moved sender that is worth the search, which costs a tenth of a second */
#define SUSPECT 2.0

struct moved_watch {
    struct thrum_voice voice, moved;
    bool follow;
    double followed_hz;
    double heard_hz;  /* the first tone, where it was heard last, or learned */
    int n_judged;     /* readings that were looked at */
    struct kept kept; /* frames as the round counts them */
    char text[160], followed[160];
};

struct moved_watch *moved_watch_create(const struct thrum_voice *voice, double rate_hz, int channels,
                                       bool follow)
{
    struct moved_watch *watch = voice->steady ? NULL : calloc(1, sizeof *watch);
    if (!watch)
        return NULL;
    watch->voice = *voice;
    watch->follow = follow;
    watch->heard_hz = voice->tones_hz[0];
    if (kept_create(&watch->kept, rate_hz, channels))
        return watch;
    free(watch);
    return NULL;
}

void moved_watch_destroy(struct moved_watch *watch)
{
    if (watch)
        kept_destroy(&watch->kept);
    free(watch);
}

/* A touch without its edges. */
static bool is_elsewhere(struct moved_watch *watch, const struct thrum_reading *reading)
{
    struct thrum_learned learned;
    uint64_t edge = (uint64_t)(EDGE_S * watch->kept.rate_hz);
    return reading->frames > 2 * edge &&
           kept_learn(&watch->kept, reading->first_frame + edge,
                      reading->first_frame + reading->frames - edge, 0.0, &learned) &&
           learned.what == THRUM_VOICE_FOUND && moved_voice(&watch->voice, &learned.voice, &watch->moved) &&
           fabs(watch->moved.tones_hz[0] / watch->heard_hz - 1.0) > MOVED_SHARE;
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
    kept_lose(&watch->kept, lost);
    kept_add(&watch->kept, samples, frames);
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
    watch->followed_hz = watch->heard_hz = watch->moved.tones_hz[0];
    return thrum_round_aim(round, watch->moved.tones_hz[0]);
}

double moved_watch_followed_hz(const struct moved_watch *watch)
{
    return watch->followed_hz;
}

const char *moved_watch_followed(const struct moved_watch *watch)
{
    return watch->followed;
}
