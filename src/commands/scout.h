/* Looks for a sender's voice in sound that was not made for learning it: touches, a walk, a live input. */
#ifndef THRUM_SCOUT_H
#define THRUM_SCOUT_H

#include <stdbool.h>
#include <stddef.h>

#include "thrum/learn.h"

struct scout;

enum thrum_status scout_create(double rate_hz, int channels, struct scout **scout);
void scout_destroy(struct scout *scout);

void scout_feed(struct scout *scout, const float *samples, size_t n_frames);

/* Judges what has not been judged yet. */
void scout_finish(struct scout *scout);

/* There is no need to look any further. */
bool scout_is_sure(const struct scout *scout);

/* The clearest voice so far; when none was found, what was heard instead. True when one was found. */
bool scout_best(const struct scout *scout, struct thrum_learned *learned);

/* The clearer of two; false when neither is a voice. */
bool scout_keep_better(struct thrum_learned *best, const struct thrum_learned *other);

#endif
