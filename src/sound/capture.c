#include "sound/capture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sound/device_list.h"
#include "sound/message.h"

#define RING_S        30.0 /* as long as a slow disk may keep the reader waiting */
#define EVENTS        64
#define RETRY_NS      2000000000u
#define FIRST_FRAME_S 3.0 /* some servers take that long to begin */
#define GONE_BASE_S   0.25
#define KICK_BASE_S   0.1
#define GAP_MAX_S     0.2
#define SEEN_MAX_S                                                                                           \
    0.02 /* of a wait that counts as idle: after a stopped program everything is late, not gone */
#define BLOCKS_A_STEP 64
#define CLOSELY_NS    2000000000u /* after its start a device is looked at more often */

static void start_counting(struct capture *c, uint64_t now_ns)
{
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
    c->block = calloc((size_t)CAPTURE_BLOCK * (size_t)c->channels, sizeof *c->block);
    c->largest_gap_s = 0.01;
    c->state = CAPTURE_RUNS;
    c->last_step_ns = c->last_frame_ns = host->now_ns(host->context);
    c->delivered_hz = c->rate_hz;
    start_counting(c, c->last_step_ns);
    atomic_init(&c->steps, 0);
    atomic_init(&c->overflows, 0);
    if (!c->frames || !c->events || !c->block) {
        capture_free(c);
        return false;
    }
    return true;
}

void capture_free(struct capture *c)
{
    ring_destroy(c->frames);
    ring_destroy(c->events);
    free(c->block);
    c->frames = NULL;
    c->events = NULL;
    c->block = NULL;
}

/* ---- events ----------------------------------------------------------------------------------- */

static bool flush_event(struct capture *c)
{
    if (c->has_waiting) {
        c->has_waiting = ring_write(c->events, &c->waiting, 1) == 0;
    }
    return !c->has_waiting;
}

/* An event that finds the queue full waits; only losses can be added to one that waits. */
static void tell(struct capture *c, enum thrum_source_event kind, uint64_t lost, const char *text)
{
    if (!flush_event(c) && kind == THRUM_SOURCE_LOST) {
        c->pending_lost += lost;
        return;
    }
    c->waiting =
        (struct capture_event){.at = c->pushed, .lost = lost, .rate_hz = c->delivered_hz, .kind = kind};
    text_set(c->waiting.text, sizeof c->waiting.text, 0, "%s", text);
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
        tell(c, THRUM_SOURCE_LOST, lost, "");
    }
    c->pushed += ring_write(c->frames, c->block, n);
}

/* ---- losing and finding the device ------------------------------------------------------------ */

static void go_away(struct capture *c, const char *text)
{
    bool was_returning = c->state == CAPTURE_RETURNING;
    if (!was_returning) {
        c->missing = frame_clock_missing(&c->clock, c->last_frame_ns, c->taken + c->known_lost);
    }
    pa_stream_close(&c->host, &c->pa);
    c->state = CAPTURE_AWAY;
    c->next_try_ns = c->host.now_ns(c->host.context) + (was_returning ? RETRY_NS : 0);
    if (!was_returning) {
        tell(c, THRUM_SOURCE_GONE, 0, text);
    }
}

static void give_up(struct capture *c, const char *text)
{
    pa_stream_close(&c->host, &c->pa);
    c->state = CAPTURE_OVER;
    tell(c, THRUM_SOURCE_FAILED, 0, text);
}

/* Does the device come back with other numbers? Then the round cannot go on with it. */
static bool came_back_different(struct capture *c, int device, const struct thrum_input *input)
{
    struct thrum_message why;
    char text[200];
    enum pa_result result = pa_stream_open(&c->host, &c->pa, device, input, 0.0, 0, &why);
    if (result != PA_DONE) {
        return false;
    }
    text_set(
        text, sizeof text, 0,
        "the input is back, but with %.0f Hz and %d channels in place of %.0f Hz and %d: start a new round",
        c->pa.rate_hz, c->pa.channels, c->rate_hz, c->channels);
    give_up(c, text);
    return true;
}

static void try_again(struct capture *c)
{
    struct thrum_message why;
    struct device_list list;
    c->next_try_ns = c->host.now_ns(c->host.context) + RETRY_NS;
    if (pa_stream_begin(&c->host, &c->pa, &why) != PA_DONE || device_list_make(&list, false) != THRUM_OK) {
        return;
    }
    int found = device_list_exact(&list, c->input.name);
    if (found >= 0) {
        const struct device_entry *e = &list.entry[found];
        enum pa_result result =
            pa_stream_open(&c->host, &c->pa, e->device, &e->info, c->rate_hz, c->channels, &why);
        if (result == PA_REFUSED && came_back_different(c, e->device, &e->info)) {
            device_list_free(&list);
            return;
        }
        if (result == PA_DONE) {
            c->state = CAPTURE_RETURNING;
            c->heard = false;
            c->kicked = false;
            c->flagged = false;
            c->idle_s = 0.0;
            c->taken = 0;
            c->known_lost = 0;
            start_counting(c, c->host.now_ns(c->host.context));
        }
    }
    device_list_free(&list);
}

/* ---- counting against the clock --------------------------------------------------------------- */

static void tell_rate(struct capture *c)
{
    struct thrum_message said;
    message_wrong_rate(&said, c->rate_hz, c->delivered_hz);
    tell(c, THRUM_SOURCE_RATE, 0, said.text);
}

/* Frames lost before a block that came at this time. */
static uint64_t count_lost(struct capture *c, uint64_t now_ns, bool overflow)
{
    signed long more = Pa_GetStreamReadAvailable(c->pa.stream);
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

static void count_block(struct capture *c, uint64_t n, bool overflow)
{
    uint64_t now = c->host.now_ns(c->host.context);
    double gap_s = c->idle_s < GAP_MAX_S ? c->idle_s : GAP_MAX_S;
    if (c->heard && gap_s > c->largest_gap_s) {
        c->largest_gap_s = gap_s;
    }
    if (c->state == CAPTURE_RETURNING) {
        double away =
            (double)(now - c->last_frame_ns) * 1e-9 * c->delivered_hz - (double)n + (double)c->missing;
        c->state = CAPTURE_RUNS;
        tell(c, THRUM_SOURCE_BACK, away > 0.0 ? (uint64_t)(away + 0.5) : 0, "the input is back");
    } else {
        uint64_t lost = count_lost(c, now, overflow);
        c->known_lost += lost;
        c->pending_lost += lost;
    }
    c->heard = true;
    c->kicked = false;
    c->idle_s = 0.0;
    c->last_frame_ns = now;
}

/* One block. false: nothing was there, or the stream is over. */
static bool take_block(struct capture *c)
{
    signed long there = Pa_GetStreamReadAvailable(c->pa.stream);
    if (there == paInputOverflowed) {
        c->flagged = true;
        return false;
    }
    if (there < 0) {
        go_away(c, "INPUT LOST - plug it in again");
        return false;
    }
    if (there == 0) {
        return false;
    }
    unsigned long n = there < CAPTURE_BLOCK ? (unsigned long)there : CAPTURE_BLOCK;
    PaError error = Pa_ReadStream(c->pa.stream, c->block, n);
    bool overflow = c->flagged || error == paInputOverflowed;
    c->flagged = false;
    if (error != paNoError && error != paInputOverflowed) {
        go_away(c, "INPUT LOST - plug it in again");
        return false;
    }
    if (overflow) {
        atomic_fetch_add_explicit(&c->overflows, 1, memory_order_relaxed);
    }
    c->taken += n;
    count_block(c, n, overflow);
    push(c, n);
    return true;
}

/* Is it still there? Older than three blocks and a quarter second is gone. */
static void watch(struct capture *c, double waited_s)
{
    double limit_s = c->heard ? 3.0 * c->largest_gap_s + GONE_BASE_S : FIRST_FRAME_S;
    c->idle_s += waited_s < SEEN_MAX_S ? waited_s : SEEN_MAX_S;
    if (c->idle_s > limit_s) {
        go_away(c, "INPUT LOST - plug it in again");
    } else if (c->heard && !c->kicked && c->idle_s > limit_s - GONE_BASE_S + KICK_BASE_S) {
        c->kicked = true;
        c->flagged = true;
        if (pa_stream_kick(&c->host, &c->pa) != PA_DONE) {
            go_away(c, "INPUT LOST - plug it in again");
        }
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
        for (int i = 0; i < BLOCKS_A_STEP && take_block(c); i++) {
            waited_s = 0.0;
        }
        if (c->state == CAPTURE_RUNS || c->state == CAPTURE_RETURNING) {
            watch(c, waited_s);
        }
        break;
    case CAPTURE_AWAY:
        if (now >= c->next_try_ns) {
            try_again(c);
        }
        break;
    case CAPTURE_OVER:
        break;
    }
}

uint64_t capture_pause_ns(const struct capture *c)
{
    return c->last_step_ns - c->clock.start_ns < CLOSELY_NS ? CAPTURE_STEP_NS / 2 : CAPTURE_STEP_NS;
}
