#include "sound/capture_own.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sound/message.h"

#define RING_S        30.0 /* as long as a slow disk may keep the reader waiting */
#define EVENTS        64
#define WISHES        4
#define OFFERS        2
#define FIRST_FRAME_S 3.0 /* some servers take that long to begin */
#define GONE_BASE_S   0.25
#define KICK_BASE_S   0.1
#define GAP_MAX_S     0.2
/* So much of a wait counts as idle: after a stopped program everything is late, not gone */
#define SEEN_MAX_S    0.02
#define BLOCKS_A_STEP 64
#define CLOSELY_NS    2000000000u /* after its start a device is looked at more often */

void capture_count_anew(struct capture *c)
{
    uint64_t now_ns = c->host.now_ns(c->host.context);
    frame_clock_start(&c->clock, c->delivered_hz, now_ns);
    rate_watch_start(&c->watch, c->delivered_hz, now_ns);
}

bool capture_init(struct capture *c, const struct sound_host *host)
{
    c->host = *host;
    c->rate_hz = c->pa.rate_hz;
    c->channels = c->pa.channels;
    c->frames = ring_create((size_t)c->channels * sizeof(float), (size_t)(RING_S * c->rate_hz));
    c->events = ring_create(sizeof(struct capture_event), EVENTS);
    c->wishes = ring_create(sizeof(struct capture_wish), WISHES);
    c->offers = ring_create(sizeof(struct thrum_offers), OFFERS);
    memcpy(c->heard_input, c->input.name, sizeof c->heard_input);
    c->block = calloc((size_t)CAPTURE_BLOCK * (size_t)c->channels, sizeof *c->block);
    c->largest_gap_s = 0.01;
    c->state = CAPTURE_RUNS;
    c->last_step_ns = c->last_frame_ns = host->now_ns(host->context);
    c->delivered_hz = c->rate_hz;
    capture_count_anew(c);
    atomic_init(&c->steps, 0);
    atomic_init(&c->overflows, 0);
    if (!c->frames || !c->events || !c->wishes || !c->offers || !c->block) {
        capture_free(c);
        return false;
    }
    return true;
}

void capture_free(struct capture *c)
{
    ring_destroy(c->frames);
    ring_destroy(c->events);
    ring_destroy(c->wishes);
    ring_destroy(c->offers);
    free(c->block);
    c->frames = c->events = c->wishes = c->offers = NULL;
    c->block = NULL;
}

/* ---- events ----------------------------------------------------------------------------------- */

static bool flush_event(struct capture *c)
{
    if (c->has_waiting)
        c->has_waiting = ring_write(c->events, &c->waiting, 1) == 0;
    return !c->has_waiting;
}

/* An event that finds the queue full waits; only losses can be added to one that waits. */
void capture_tell(struct capture *c, enum thrum_source_event kind, uint64_t lost, const char *text)
{
    if (!flush_event(c) && kind == THRUM_SOURCE_LOST) {
        c->pending_lost += lost;
        return;
    }
    c->waiting =
        (struct capture_event){.at = c->pushed, .lost = lost, .rate_hz = c->delivered_hz, .kind = kind};
    text_set(c->waiting.text, sizeof c->waiting.text, 0, "%s", text);
    if (kind == THRUM_SOURCE_OTHER)
        memcpy(c->waiting.input, c->input.name, sizeof c->waiting.input);
    c->has_waiting = true;
    (void)flush_event(c);
}

/* What does not fit on the ring is lost, a whole block at a time, and told when there is room again. */
static void push(struct capture *c, size_t n)
{
    if (ring_writable(c->frames) < n || !flush_event(c)) {
        c->pending_lost += n;
        return;
    }
    if (c->pending_lost > 0) {
        uint64_t lost = c->pending_lost;
        c->pending_lost = 0;
        capture_tell(c, THRUM_SOURCE_LOST, lost, "");
    }
    c->pushed += ring_write(c->frames, c->block, n);
}

/* ---- counting against the clock --------------------------------------------------------------- */

static void tell_rate(struct capture *c)
{
    struct thrum_message said;
    message_wrong_rate(&said, c->rate_hz, c->delivered_hz);
    capture_tell(c, THRUM_SOURCE_RATE, 0, said.text);
}

/* Frames lost before a block that came at this time, with more to read behind it. */
static uint64_t count_lost(struct capture *c, uint64_t now_ns, signed long more, bool overflow)
{
    uint64_t came = c->taken + (more > 0 ? (uint64_t)more : 0);
    double other_hz = rate_watch_look(&c->watch, now_ns, came, overflow);
    if (other_hz > 0.0) {
        c->delivered_hz = other_hz;
        frame_clock_start(&c->clock, other_hz, now_ns);
        tell_rate(c);
    }
    return frame_clock_look(&c->clock, now_ns, came + c->known_lost, overflow && c->heard);
}

/* ---- taking frames ---------------------------------------------------------------------------- */

static void tell_return(struct capture *c, uint64_t away)
{
    char text[256];
    if (strcmp(c->input.name, c->heard_input) == 0) {
        capture_tell(c, THRUM_SOURCE_BACK, away, "the input is back");
        return;
    }
    text_set(text, sizeof text, 0, "another input, %s: strengths do not compare, touch the wires again",
             c->input.name);
    memcpy(c->heard_input, c->input.name, sizeof c->heard_input);
    capture_tell(c, THRUM_SOURCE_OTHER, away, text);
}

/* One channel, where the reader expects several, is given on all of them. */
static void spread(struct capture *c, size_t n)
{
    size_t channels = (size_t)c->channels;
    for (size_t i = n; c->pa.channels < c->channels && i-- > 0;)
        for (size_t k = channels; k-- > 0;)
            c->block[i * channels + k] = c->block[i];
}

static void count_block(struct capture *c, uint64_t n, signed long more, bool overflow)
{
    uint64_t now = c->host.now_ns(c->host.context);
    double gap_s = c->idle_s < GAP_MAX_S ? c->idle_s : GAP_MAX_S;
    if (c->heard && gap_s > c->largest_gap_s)
        c->largest_gap_s = gap_s;
    if (c->state == CAPTURE_RETURNING) {
        double away =
            (double)(now - c->last_frame_ns) * 1e-9 * c->delivered_hz - (double)n + (double)c->missing;
        c->state = CAPTURE_RUNS;
        tell_return(c, away > 0.0 ? (uint64_t)(away + 0.5) : 0);
    } else {
        uint64_t lost = count_lost(c, now, more, overflow);
        c->known_lost += lost;
        c->pending_lost += lost;
    }
    c->heard = true;
    c->kicked = false;
    c->idle_s = 0.0;
    c->last_frame_ns = now;
}

/* One block of what is there; what PortAudio says is there then, or 0 when the stream is over. */
static signed long take_block(struct capture *c, signed long there)
{
    unsigned long n = there < CAPTURE_BLOCK ? (unsigned long)there : CAPTURE_BLOCK;
    PaError error = Pa_ReadStream(c->pa.stream, c->block, n);
    bool overflow = c->flagged || error == paInputOverflowed;
    c->flagged = false;
    if (error != paNoError && error != paInputOverflowed) {
        capture_go_away(c, "INPUT LOST - plug it in again");
        return 0;
    }
    if (overflow)
        atomic_fetch_add_explicit(&c->overflows, 1, memory_order_relaxed);
    signed long more = Pa_GetStreamReadAvailable(c->pa.stream);
    spread(c, n);
    c->taken += n;
    count_block(c, n, more, overflow);
    push(c, n);
    return more;
}

/* All that is there. Has a block come? */
static bool take_blocks(struct capture *c)
{
    signed long there = Pa_GetStreamReadAvailable(c->pa.stream);
    bool some = there > 0;
    for (int i = 0; i < BLOCKS_A_STEP && there > 0; i++)
        there = take_block(c, there);
    if (there == paInputOverflowed)
        c->flagged = true;
    else if (there < 0)
        capture_go_away(c, "INPUT LOST - plug it in again");
    return some;
}

/* Is it still there? Older than three blocks and a quarter second is gone. */
static void watch(struct capture *c, double waited_s)
{
    double limit_s = c->heard ? 3.0 * c->largest_gap_s + GONE_BASE_S : FIRST_FRAME_S;
    c->idle_s += waited_s < SEEN_MAX_S ? waited_s : SEEN_MAX_S;
    if (c->idle_s > limit_s) {
        capture_go_away(c, "INPUT LOST - plug it in again");
    } else if (c->heard && !c->kicked && c->idle_s > limit_s - GONE_BASE_S + KICK_BASE_S) {
        c->kicked = true;
        c->flagged = true;
        if (pa_stream_kick(&c->host, &c->pa) != PA_DONE)
            capture_go_away(c, "INPUT LOST - plug it in again");
        c->last_step_ns = c->host.now_ns(c->host.context);
    }
}

void capture_step(struct capture *c)
{
    uint64_t now = c->host.now_ns(c->host.context);
    double waited_s = (double)(now - c->last_step_ns) * 1e-9;
    c->last_step_ns = now;
    atomic_fetch_add_explicit(&c->steps, 1, memory_order_release);
    (void)flush_event(c);
    switch (c->state) {
    case CAPTURE_RUNS:
    case CAPTURE_RETURNING:
        if (take_blocks(c))
            waited_s = 0.0;
        if (c->state == CAPTURE_RUNS || c->state == CAPTURE_RETURNING)
            watch(c, waited_s);
        break;
    case CAPTURE_AWAY:
        capture_look(c, now);
        break;
    case CAPTURE_OVER:
        break;
    }
}

uint64_t capture_pause_ns(const struct capture *c)
{
    return c->last_step_ns - c->clock.start_ns < CLOSELY_NS ? CAPTURE_STEP_NS / 2 : CAPTURE_STEP_NS;
}
