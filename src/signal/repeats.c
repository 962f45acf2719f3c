#include "signal/repeats.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"

enum {
    RING = 4 * THRUM_REPEATS_LONGEST, /* frames kept: half of it, and a part that is written ahead */
    MARKS = 2048,                     /* landmarks kept */
    MOST_TIMES = 8,                   /* a stretch repeated more often is a tone */
    PAUSE = 24,
    PROOF = 8, /* frames that must agree before a distance is followed */
    KEYED = 4, /* frames that a landmark is known by, for soft sound has few values */
    PART = 256 /* frames whose keys are made at once, a multiple of 8 */
};

#define SCATTER       0x9E3779B1u /* odd, near the golden section of 2^32: spreads values over the high bits */
#define LANDMARK_BITS 27          /* 5 high bits zero: one in 32 */

struct thrum_repeats {
    uint32_t ring[KEYED + RING]; /* before its first frame the KEYED that came before it */
    uint32_t mark
        [MARKS]; /* position of a landmark, + 1; 0 for none. Wraps after 2^32 frames: distances stay right */
    uint32_t at; /* frames so far */
    uint32_t distance; /* being followed; 0 for none */
    uint32_t run;      /* frames that agreed at that distance */
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
    return r->ring[KEYED + at % RING];
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

/* A number for each frame and the KEYED before it, and whether it makes a landmark: 1 or 0.
 * frames: shape [KEYED + n], the first of them those before; key, mark: shape [n]. */
THRUM_WIDE static void make_keys(const uint32_t *frames, int n, uint32_t *key, uint8_t *mark)
{
    uint32_t spread[KEYED + PART];
    for (int i = 0; i < n + KEYED; i++)
        spread[i] = frames[i] * SCATTER >> 8;
    for (int i = 0; i < n; i++) {
        const uint32_t *was = frames + i, *s = spread + i;
        uint32_t trail = s[3] ^ s[2] << 8 ^ s[1] << 16 ^ s[0] << 24;
        key[i] = (was[KEYED] ^ trail) * SCATTER;
        mark[i] = (uint8_t)((key[i] >> LANDMARK_BITS == 0) & (was[KEYED] != was[KEYED - 1]));
    }
}

/* Where the landmarks are, in order. Most groups of frames have none. mark: shape [PART], at: shape [n]; returns how
 * many. */
static int list_landmarks(const uint8_t *mark, int n, int *at)
{
    int found = 0;
    uint64_t any;
    for (int i = 0; i < n; i += (int)sizeof any) {
        memcpy(&any, mark + i, sizeof any);
        for (; any; any &= any - 1)
            at[found++] = i + __builtin_ctzll(any) / 8;
    }
    return found;
}

/* Into the ring, as many as fit before its end, PART at most. Returns how many, and where they and those before lie. */
static int keep(struct thrum_repeats *r, const uint32_t *frames, int n, const uint32_t **kept)
{
    uint32_t at = r->at % RING;
    int take = n < PART ? n : PART;
    take = RING - at < (uint32_t)take ? (int)(RING - at) : take;
    if (at == 0)
        memcpy(r->ring, r->ring + RING, KEYED * sizeof *r->ring);
    memmove(r->ring + KEYED + at, frames, (size_t)take * sizeof *frames); /* memcpy of so few: a slow loop */
    *kept = r->ring + at;
    return take;
}

/* Follow the distance from here to the end or until it breaks. Returns how many frames that took. */
static int follow(struct thrum_repeats *r, int n, int *found)
{
    for (int i = 0; i < n; i++) {
        bool agrees = frame_at(r, r->at) == frame_at(r, r->at - r->distance);
        if (agrees)
            r->run += r->run < UINT32_MAX / 2;
        else
            *found += judge(r);
        r->at++;
        if (!agrees)
            return i + 1;
    }
    return n;
}

/* One part, already kept: from landmark to landmark, resting after one that led nowhere. */
static int pass_part(struct thrum_repeats *r, const uint32_t *key, const int *at, int n_marks, int n)
{
    uint32_t end = r->at + (uint32_t)n;
    int i = 0, found = 0;
    if (r->distance)
        i = follow(r, n, &found);
    for (int k = 0; k < n_marks; k++) {
        if (at[k] < i + (int)r->rest)
            continue;
        r->at += (uint32_t)(at[k] - i);
        r->rest = 0;
        meet_mark(r, key[at[k]]);
        r->at++;
        i = at[k] + 1;
        if (r->distance)
            i += follow(r, n - i, &found);
    }
    r->rest = r->rest > (uint32_t)(n - i) ? r->rest - (uint32_t)(n - i) : 0;
    r->at = end;
    return found;
}

int thrum_repeats_feed(struct thrum_repeats *repeats, const uint32_t *frames, int n)
{
    struct thrum_repeats *r = repeats;
    const uint32_t *kept;
    uint32_t key[PART];
    uint8_t mark[PART] = {0};
    int at[PART], found = 0;
    for (int take; n > 0; frames += take, n -= take) {
        take = keep(r, frames, n, &kept);
        make_keys(kept, take, key, mark);
        memset(mark + take, 0, (size_t)(PART - take));
        found += pass_part(r, key, at, list_landmarks(mark, take, at), take);
    }
    return found;
}
