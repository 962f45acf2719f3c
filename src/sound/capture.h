/* Takes frames from a device, stamps and counts them, and puts them on a ring; owns the question "is it alive".
 *
 * A state machine that is stepped every few milliseconds by its own thread (in tests: by the reader, on a virtual
 * clock). What happens to the sound goes to the reader as events, each at its frame.
 */
#ifndef THRUM_SOUND_CAPTURE_H
#define THRUM_SOUND_CAPTURE_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "sound/frame_clock.h"
#include "sound/host.h"
#include "sound/pa_stream.h"
#include "sound/rate_watch.h"
#include "sound/ring.h"
#include "sound/source.h"

#define CAPTURE_STEP_NS 16000000u /* the longest pause between two steps */
#define CAPTURE_BLOCK   4096      /* frames taken at once, at most */

struct capture_event {
    uint64_t at;                  /* before this frame of all that were put on the ring */
    uint64_t lost;                /* frames */
    double rate_hz;               /* of RATE */
    enum thrum_source_event kind; /* LOST, GONE, BACK, OTHER, RATE or FAILED */
    char text[256];
    char input[160]; /* of OTHER: its name */
};

/* What the reader asks for while the device is away: it looked for at once, or another one in its place. */
struct capture_wish {
    char input[160]; /* "" for the one that has gone */
};

enum capture_state { CAPTURE_RUNS, CAPTURE_RETURNING, CAPTURE_AWAY, CAPTURE_OVER };

struct capture {
    struct sound_host host;
    struct pa_stream pa;
    struct thrum_input input; /* what is looked for when it has gone */
    char heard_input[160];    /* the one that the reader thinks it hears */
    char wanted[160];         /* to be tried next in its place, once; "" for none */
    double rate_hz;           /* as told to the reader; never changes */
    int channels;
    struct ring *frames; /* float [channels] */
    struct ring *events; /* struct capture_event */
    struct ring *wishes; /* struct capture_wish, from the reader */
    struct ring *offers; /* struct thrum_offers */
    float *block;        /* [CAPTURE_BLOCK * channels] */
    enum capture_state state;
    struct frame_clock clock;
    struct rate_watch watch;
    double delivered_hz;   /* by the clock, as far as it is known */
    uint64_t taken;        /* read from this stream */
    uint64_t pushed;       /* put on the ring, all streams */
    uint64_t known_lost;   /* of this stream */
    uint64_t missing;      /* when it ended: of the last stream, not told yet */
    uint64_t pending_lost; /* to be told with the next frame that fits */
    double idle_s;         /* since the last frame, as far as we were there to see */
    double largest_gap_s;  /* between blocks so far, at most 0.2 */
    bool flagged;          /* the driver said so before the next block */
    bool kicked;           /* since the last frame */
    bool heard;            /* this stream has given a frame */
    uint64_t last_step_ns;
    uint64_t last_frame_ns;
    uint64_t next_try_ns;
    struct capture_event waiting; /* did not fit into the queue */
    bool has_waiting;
    /* seen by the reader */
    _Atomic uint64_t steps;
    _Atomic uint64_t overflows; /* blocks that the driver flagged */
};

/* The stream in pa is open and runs. false: no memory. */
bool capture_init(struct capture *c, const struct sound_host *host);
void capture_free(struct capture *c);

/* Takes what is there; looks after the rest. Never waits longer than the host's limits. */
void capture_step(struct capture *c);

/* How long to wait before the next step: short while it is still to be seen which rate the device delivers. */
uint64_t capture_pause_ns(const struct capture *c);

#endif
