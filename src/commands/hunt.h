/* Looks for a sender's voice in sound that was not made for learning it: touches, a walk, a live input. */
#ifndef THRUM_HUNT_H
#define THRUM_HUNT_H

#include <stdbool.h>
#include <stddef.h>

#include "thrum/learn.h"

struct hunt;

enum thrum_status hunt_create(double rate_hz, int channels, struct hunt **hunt);
void hunt_destroy(struct hunt *hunt);

void hunt_feed(struct hunt *hunt, const float *samples, size_t n_frames);

/* Judges what has not been judged yet. */
void hunt_finish(struct hunt *hunt);

/* There is no need to look any further. */
bool hunt_is_sure(const struct hunt *hunt);

/* The clearest voice so far; when none was found, what was heard instead. True when one was found. */
bool hunt_best(const struct hunt *hunt, struct thrum_learned *learned);

/* The clearer of two; false when neither is a voice. */
bool hunt_keep_better(struct thrum_learned *best, const struct thrum_learned *other);

#endif
