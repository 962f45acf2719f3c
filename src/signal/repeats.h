/** @file repeats.h
 *  Finds stretches that are an exact repetition of the one before: what a driver does that hands out a buffer twice.
 *
 *  Every frame is a number; about one in 32 becomes a landmark by its value and those of the frames just before. A landmark met again within 8192
 *  frames gives a distance, at which the sound is then compared frame by frame. A stretch counts when it is as long as the
 *  distance (or up to eight times): a tone that is exactly periodic repeats for far longer.
 *
 *  Pure; no allocation after creation.
 */
#ifndef THRUM_SIGNAL_REPEATS_H
#define THRUM_SIGNAL_REPEATS_H

#include <stdint.h>

#include "thrum/status.h"

#define THRUM_REPEATS_SHORTEST 128
#define THRUM_REPEATS_LONGEST  8192

struct thrum_repeats;

enum thrum_status thrum_repeats_create(struct thrum_repeats **repeats);
void thrum_repeats_destroy(struct thrum_repeats *repeats);
void thrum_repeats_reset(struct thrum_repeats *repeats);

/** The next frames, each as one number made of all its samples. Returns how many repetitions ended in them. */
int thrum_repeats_feed(struct thrum_repeats *repeats, const uint32_t *frames, int n);

#endif
