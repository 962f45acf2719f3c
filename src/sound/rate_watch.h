/* At which rate do frames really come? Some drivers say 48000 and deliver 44100 without a word.
 *
 * Frames are counted against the monotonic clock over short slots, each by the most that had come: that does not depend on
 * the size of blocks. A wrong rate lags in every slot alike; a loss lags in one. Only the usual rates are believed, so that
 * many small losses, or a clock that is off, are no rate. Known 0.9 s after the first frame. */
#ifndef THRUM_SOUND_RATE_WATCH_H
#define THRUM_SOUND_RATE_WATCH_H

#include <stdbool.h>
#include <stdint.h>

#define RATE_WATCH_SLOTS 5

struct rate_watch {
    double rate_hz; /* believed so far */
    uint64_t start_ns, slot_ns;
    double ahead[RATE_WATCH_SLOTS]; /* frames before the clock, the most of each slot, ... */
    double at_s[RATE_WATCH_SLOTS];  /* ... and when, since the start */
    int slot;                       /* in progress */
    unsigned looks;                 /* in it */
    bool flagged;                   /* the block before */
};

void rate_watch_start(struct rate_watch *watch, double rate_hz, uint64_t now_ns);

/* After each block. came: frames so far, read or waiting, losses not counted. overflow: the driver's flag; after one that
 * stands alone it begins anew. Returns another rate than the one believed when it is sure of it, once, and believes that one
 * from then on; else 0. */
double rate_watch_look(struct rate_watch *watch, uint64_t now_ns, uint64_t came, bool overflow);

#endif
