/* Are frames missing? The count of frames against the monotonic clock, because the flags of sound drivers lie both
 * ways: set on every block though nothing is missing, or not set though a second is.
 *
 * behind = what the clock says should have come - what has come. It jitters upwards by a block; its lowest value is
 * the base, which follows a card whose own clock is a little off. A loss lifts it for good.
 */
#ifndef THRUM_SOUND_FRAME_CLOCK_H
#define THRUM_SOUND_FRAME_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

struct frame_clock {
    double rate_hz;
    uint64_t start_ns;
    double base;        /* frames */
    double owed;        /* lost and not told, of the losses before; negative: told too much */
    double reference;   /* what the lowest would be had the last loss been told exactly, ... */
    bool pending;       /* ... which the window in progress shows */
    double jitter;      /* highest - lowest of the window before, frames */
    double low, high;   /* of the window in progress */
    uint64_t window_ns; /* when it began */
    unsigned looks;     /* in it */
    unsigned flags;     /* in it */
    bool settled;       /* the first half second is over */
};

void frame_clock_start(struct frame_clock *clock, double rate_hz, uint64_t now_ns);

/* After each block. seen: all frames that came, are waiting, or are known to be lost. overflow: the driver's flag.
 * Returns how many more are lost; the caller adds them to what is known to be lost. */
uint64_t frame_clock_look(struct frame_clock *clock, uint64_t now_ns, uint64_t seen, bool overflow);

/* What seems to be missing at the time of the last block, without waiting for a window to show it: for a stream that ends. 0
 * when it is no more than the jitter. */
uint64_t frame_clock_missing(const struct frame_clock *clock, uint64_t last_ns, uint64_t seen);

#endif
