/* A sender whose tones have moved since it was learned, as they do when its battery sags. */
#ifndef THRUM_MOVED_H
#define THRUM_MOVED_H

#include <stdbool.h>
#include <stddef.h>

#include "thrum/voice.h"

#define MOVED_FARTHEST 0.08 /* senders move by some per cent from day to day; more is another sender */

/* Is `heard` the learned voice with all its tones moved alike, by more than 1 Hz and 8 % at most? Then that in moved: the learned cadence
 * at the tones heard. A steady voice has no cadence to be known by: never. */
bool moved_voice(const struct thrum_voice *learned, const struct thrum_voice *heard,
                 struct thrum_voice *moved);

/* Whether the voice's first tone may have moved to there: 8 % at most. */
bool moved_within_reach(const struct thrum_voice *learned, double tone_hz);

/* The learned voice, its first tone at tone_hz and the others moved alike. */
struct thrum_voice moved_to(const struct thrum_voice *learned, double tone_hz);

/* "the sender is at 1089 Hz, 5.0 % above the 1037 Hz it was learned at (its battery?)" */
void moved_text(const struct thrum_voice *learned, const struct thrum_voice *moved, char *text, size_t size);

#endif
