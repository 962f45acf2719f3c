/* The newest seconds of a running sound, kept so that a part of them can be learned from. One thread at a time. */
#ifndef THRUM_KEPT_H
#define THRUM_KEPT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/learn.h"

struct kept {
    double rate_hz;
    size_t channels;
    size_t room;     /* frames: twelve seconds of them, less when the sound has many samples */
    uint64_t frames; /* so far; the next one goes to frames % room */
    uint64_t from;   /* the first frame since something was lost */
    float *samples;  /* a ring [room * channels] */
};

/* false: too little memory. */
bool kept_create(struct kept *kept, double rate_hz, int channels);
void kept_destroy(struct kept *kept);

void kept_add(struct kept *kept, const float *samples, size_t n_frames);

/* So many frames never came: what is from before them is no longer learned from. */
void kept_lose(struct kept *kept, uint64_t n_frames);

/* What the kept part of [first, end) is. false, learned as it was: that is shorter than shortest_s or not there yet, or there is too
 * little memory. Takes a tenth of a second. */
bool kept_learn(const struct kept *kept, uint64_t first, uint64_t end, double shortest_s,
                struct thrum_learned *learned);

#endif
