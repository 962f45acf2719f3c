#include "signal/repeats.h"

#include <stdlib.h>
#include <string.h>

enum {
    RING = 2 * THRUM_REPEATS_LONGEST, /* frames kept */
    MARKS = 2048,                     /* landmarks kept */
    MOST_TIMES = 8,                   /* a stretch repeated more often is a tone */
    PAUSE = 24,
    PROOF = 8 /* frames that must agree before a distance is followed */
};

#define SCATTER       0x9E3779B1u /* odd, near the golden section of 2^32: spreads values over the high bits */
#define LANDMARK_BITS 27          /* 5 high bits zero: one in 32 */

struct thrum_repeats {
    uint32_t ring[RING];
    uint32_t mark
        [MARKS]; /* position of a landmark, + 1; 0 for none. Wraps after 2^32 frames: distances stay right */
    uint32_t at; /* frames so far */
    uint32_t distance; /* being followed; 0 for none */
    uint32_t run;      /* frames that agreed at that distance */
    uint32_t last;     /* the frame before */
    uint32_t trail;    /* the last few frames, folded */
    uint32_t rest;     /* frames to let pass after a landmark that led nowhere: few different values */
};

enum thrum_status thrum_repeats_create(struct thrum_repeats **repeats)
{
    *repeats = calloc(1, sizeof **repeats);
    return *repeats ? THRUM_OK : THRUM_ERR_MEM;
}

void thrum_repeats_destroy(struct thrum_repeats *repeats)
{
    free(repeats);
}

void thrum_repeats_reset(struct thrum_repeats *repeats)
{
    memset(repeats, 0, sizeof *repeats);
}

static uint32_t frame_at(const struct thrum_repeats *r, uint32_t at)
{
    return r->ring[at % RING];
}

/* How many frames up to the newest agree with those `distance` before; no more than `most`. */
static uint32_t agreeing(const struct thrum_repeats *r, uint32_t distance, uint32_t most)
{
    uint32_t n = 0;
    while (n < most && frame_at(r, r->at - n) == frame_at(r, r->at - n - distance))
        n++;
    return n;
}

/* A landmark: seen before not too long ago? Then follow. */
static void meet_mark(struct thrum_repeats *r, uint32_t key)
{
    uint32_t *mark = &r->mark[(key >> 8) % MARKS], was = *mark;
    *mark = r->at + 1;
    uint32_t distance = r->at + 1 - was;
    if (was == 0 || distance < THRUM_REPEATS_SHORTEST || distance > THRUM_REPEATS_LONGEST ||
        distance + PROOF > r->at)
        return;
    uint32_t most = THRUM_REPEATS_LONGEST - 1;
    if (most + distance > r->at)
        most = r->at - distance;
    uint32_t run = agreeing(r, distance, most);
    if (run >= PROOF) {
        r->distance = distance;
        r->run = run;
    } else {
        r->rest = PAUSE;
    }
}

/* The run is over: was it a repetition? Once or a few times the distance, give or take a frame that agreed by chance. */
static int judge(struct thrum_repeats *r)
{
    uint32_t distance = r->distance, times = (r->run + 2) / distance, over = (r->run + 2) % distance;
    r->distance = 0;
    return times >= 1 && times <= MOST_TIMES && over <= 4;
}

int thrum_repeats_feed(struct thrum_repeats *repeats, const uint32_t *frames, int n)
{
    int found = 0;
    for (int i = 0; i < n; i++) {
        uint32_t frame = frames[i];
        repeats->ring[repeats->at % RING] = frame;
        if (repeats->distance) {
            if (frame == frame_at(repeats, repeats->at - repeats->distance))
                repeats->run += repeats->run < UINT32_MAX / 2;
            else
                found += judge(repeats);
        } else if (repeats->rest > 0) {
            repeats->rest--;
        } else {
            /* of four frames, for soft sound has few values */
            uint32_t key = (frame ^ repeats->trail) * SCATTER;
            if (key >> LANDMARK_BITS == 0 && frame != repeats->last)
                meet_mark(repeats, key);
        }
        repeats->trail = (repeats->trail & 0xffffffu) << 8 ^ frame * SCATTER >> 8;
        repeats->last = frame;
        repeats->at++;
    }
    return found;
}
