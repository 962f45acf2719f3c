/* A live round listens for a sender that has moved, in the touches that do not hear it. One thread at a time. */
#ifndef THRUM_MOVED_WATCH_H
#define THRUM_MOVED_WATCH_H

#include <stdbool.h>
#include <stddef.h>

#include "sound/source.h"
#include "thrum/round.h"
#include "thrum/voice.h"

struct moved_watch;

/* follow: without being asked, as long as no touch has heard it. NULL for a steady voice, which has no cadence to be known by, and
 * without memory: then nothing is watched. */
struct moved_watch *moved_watch_create(const struct thrum_voice *voice, double rate_hz, int channels,
                                       bool follow);
void moved_watch_destroy(struct moved_watch *watch);

/* What the round has just heard, after so many frames that it took as silence. After a touch that did not hear the sender it is seen
 * whether the voice's cadence stands in it at other tones, 8 % away at most, which takes a tenth of a second. seen: room for a
 * snapshot. message: what was done unasked. */
void moved_watch_hear(struct moved_watch *watch, struct thrum_round *round, struct thrum_snapshot *seen,
                      const float *samples, size_t frames, uint64_t lost, struct thrum_message *message);

/* The sender was found elsewhere: where, as a sentence without a full stop; "" when it was not, or is measured there. */
const char *moved_watch_text(const struct moved_watch *watch);

/* Measure it there from now on. THRUM_ERR_NOT_FOUND when it was not found elsewhere. */
enum thrum_status moved_watch_follow(struct moved_watch *watch, struct thrum_round *round);

/* Its first tone, where it was followed to last; 0 when it was not. */
double moved_watch_followed_hz(const struct moved_watch *watch);

/* Where it was followed to, as moved_watch_text(); "" when it was not. */
const char *moved_watch_followed(const struct moved_watch *watch);

#endif
