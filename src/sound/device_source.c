/* A sound input as a source: one capture thread, one ring, one reader. */
#include "sound/device_source.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "sound/capture.h"
#include "sound/device_list.h"
#include "sound/knock.h"
#include "sound/message.h"
#include "sound/quiet.h"
#include "sound/source_own.h"

#define WAIT_NS       50000000u /* a read waits that long at most... */
#define POLL_NS       25000000u /* ...and looks up so often, where nobody knocks */
#define STUCK_NS      1000000000u
#define CLOSE_WAIT_NS 5000000000u
#define LOW_RATE_HZ   16000.0

/* Lives as long as the thread: when that hangs for ever, this is left to it. */
struct device {
    struct capture capture;
    struct knock knock; /* there is something to read */
    _Atomic bool stop;
    _Atomic bool over; /* the thread has let go of everything */
};

struct device_source {
    struct thrum_source source;
    struct device *device;
    pthread_t thread;
    bool threaded;
    uint64_t taken; /* frames given to the reader */
    uint64_t last_steps;
    uint64_t still_ns; /* how long the capture has made no step, as far as we waited */
    bool stuck;        /* ... and that has been told */
    bool away;         /* GONE was told, BACK not yet */
    bool failed;
};

static void *capture_thread(void *own)
{
    struct device *d = own;
    struct capture *c = &d->capture;
    while (!atomic_load_explicit(&d->stop, memory_order_acquire)) {
        uint64_t before = c->pushed;
        capture_step(c);
        if (c->pushed != before || ring_readable(c->events) > 0)
            knock_once(&d->knock);
        c->host.sleep_ns(c->host.context, capture_pause_ns(c));
    }
    pa_stream_end(&c->host, &c->pa);
    atomic_store_explicit(&d->over, true, memory_order_release);
    return NULL;
}

/* ---- reading ---------------------------------------------------------------------------------- */

/* An event that is due now. *until_event: frames before the next one. */
static bool take_event(struct device_source *s, struct capture_event *event, size_t *until_event)
{
    struct capture *c = &s->device->capture;
    *until_event = SIZE_MAX;
    if (!ring_peek(c->events, event))
        return false;
    if (event->at > s->taken) {
        *until_event = (size_t)(event->at - s->taken);
        return false;
    }
    return ring_read(c->events, event, 1) == 1;
}

/* What is on the ring, up to the next event; a loss and the frames after it come in one block. */
static bool take(struct device_source *s, float *samples, size_t max_frames, struct thrum_source_block *block)
{
    struct capture *c = &s->device->capture;
    struct capture_event event;
    size_t until_event;
    /* look at the frames first: whatever comes before them is in the queue of events by then */
    size_t there = ring_readable(c->frames);
    bool happened = take_event(s, &event, &until_event);
    if (happened) {
        block->event = event.kind;
        block->lost = event.lost;
        block->rate_hz = event.kind == THRUM_SOURCE_RATE ? event.rate_hz : 0.0;
        message_set(&block->message, "%s", event.text);
        s->failed = event.kind == THRUM_SOURCE_FAILED;
        if (event.kind == THRUM_SOURCE_GONE) {
            s->away = true;
            s->stuck = false;
        } else if (event.kind == THRUM_SOURCE_BACK || event.kind == THRUM_SOURCE_OTHER) {
            s->away = false;
        }
        if (event.kind == THRUM_SOURCE_OTHER)
            memcpy(s->source.info.name, event.input, sizeof s->source.info.name);
        if (event.kind != THRUM_SOURCE_LOST)
            return true;
        there = ring_readable(c->frames);
        until_event = ring_peek(c->events, &event) ? (size_t)(event.at - s->taken) : SIZE_MAX;
    }
    size_t n = there < max_frames ? there : max_frames;
    block->frames = ring_read(c->frames, samples, n < until_event ? n : until_event);
    s->taken += block->frames;
    return happened || block->frames > 0;
}

static void wait_a_little(struct device_source *s)
{
    struct capture *c = &s->device->capture;
    if (s->threaded) {
        knock_wait(&s->device->knock, POLL_NS);
        return;
    }
    capture_step(c);
    c->host.sleep_ns(c->host.context, capture_pause_ns(c));
}

/* The capture thread itself hangs in the driver: the reader says so in its place. */
static bool look_for_stuck(struct device_source *s, struct thrum_source_block *block)
{
    uint64_t steps = atomic_load_explicit(&s->device->capture.steps, memory_order_acquire);
    bool moved = steps != s->last_steps;
    s->last_steps = steps;
    s->still_ns = moved ? 0 : s->still_ns + POLL_NS;
    if (!s->away && s->still_ns > STUCK_NS) {
        s->stuck = true;
        s->away = true;
        block->event = THRUM_SOURCE_GONE;
        message_set(&block->message, "INPUT LOST - the sound driver hangs; plug the input in again");
        return true;
    }
    if (s->stuck && moved) {
        s->stuck = false;
        s->away = false;
        block->event = THRUM_SOURCE_BACK;
        message_set(&block->message, "the input is back");
        return true;
    }
    return false;
}

static void device_read(struct thrum_source *source, float *samples, size_t max_frames,
                        struct thrum_source_block *block)
{
    struct device_source *s = (struct device_source *)source;
    if (s->failed) {
        block->event = THRUM_SOURCE_END;
        return;
    }
    for (uint64_t waited = 0; !take(s, samples, max_frames, block); waited += POLL_NS) {
        if (waited >= WAIT_NS || (s->threaded && look_for_stuck(s, block)))
            return;
        wait_a_little(s);
    }
}

/* ---- choosing ---------------------------------------------------------------------------------- */

static enum thrum_status device_look(struct thrum_source *source, const char *name)
{
    struct device_source *s = (struct device_source *)source;
    struct capture_wish wish = {.input = ""};
    if (!s->away || s->stuck)
        return THRUM_ERR_NOT_FOUND;
    text_set(wish.input, sizeof wish.input, 0, "%s", name);
    return ring_write(s->device->capture.wishes, &wish, 1) == 1 ? THRUM_OK : THRUM_ERR_FULL;
}

static bool device_offers(struct thrum_source *source, struct thrum_offers *offers)
{
    struct device_source *s = (struct device_source *)source;
    bool news = false;
    while (ring_read(s->device->capture.offers, offers, 1) == 1)
        news = true;
    return news;
}

/* ---- ending ----------------------------------------------------------------------------------- */

static void free_device(struct device *d)
{
    if (d) {
        capture_free(&d->capture);
        knock_free(&d->knock);
        free(d);
    }
}

static void end_thread(struct device_source *s)
{
    struct sound_host host = s->device->capture.host;
    atomic_store_explicit(&s->device->stop, true, memory_order_release);
    for (uint64_t waited = 0; waited < CLOSE_WAIT_NS; waited += POLL_NS) {
        if (atomic_load_explicit(&s->device->over, memory_order_acquire)) {
            pthread_join(s->thread, NULL);
            return;
        }
        host.sleep_ns(host.context, POLL_NS);
    }
    pthread_detach(s->thread); /* it hangs in the driver: it keeps the device, we go */
    s->device = NULL;
}

static void device_close(struct thrum_source *source)
{
    struct device_source *s = (struct device_source *)source;
    if (s->threaded)
        end_thread(s);
    else if (s->device)
        pa_stream_end(&s->device->capture.host, &s->device->capture.pa);
    free_device(s->device);
    free(s);
}

/* ---- opening ---------------------------------------------------------------------------------- */

static struct device *make_device(void)
{
    struct device *d = calloc(1, sizeof *d);
    if (!d || knock_make(&d->knock))
        return d;
    free(d);
    return NULL;
}

static enum thrum_status open_input(struct capture *c, const struct sound_host *host, const char *name,
                                    struct thrum_message *message)
{
    struct device_list list;
    int found = -1;
    if (pa_stream_begin(host, &c->pa, message) != PA_DONE)
        return THRUM_ERR_DEVICE;
    enum thrum_status status = device_list_make(&list, false);
    if (status == THRUM_OK)
        status = device_list_find(&list, name, &found, message);
    if (status == THRUM_OK) {
        const struct device_entry *e = &list.entry[found];
        c->input = e->info;
        status = pa_stream_open(host, &c->pa, e->device, &e->info, 0.0, 0, message) == PA_DONE
                     ? THRUM_OK
                     : THRUM_ERR_DEVICE;
    }
    device_list_free(&list);
    return status;
}

static void fill_info(struct device_source *s)
{
    struct thrum_source_info *info = &s->source.info;
    const struct capture *c = &s->device->capture;
    memcpy(info->name, c->input.name, sizeof info->name);
    info->rate_hz = c->rate_hz;
    info->channels = c->channels;
    info->live = true;
    info->bluetooth = c->input.bluetooth;
    info->monitor = c->input.monitor;
    if (info->monitor)
        text_set(info->note, sizeof info->note, 1, "this hears the loudspeakers, not the probe");
    if (info->bluetooth) {
        text_set(info->note, sizeof info->note, 1,
                 "a Bluetooth input: its sound is processed; use a wired one");
    }
    if (info->rate_hz < LOW_RATE_HZ) {
        text_set(info->note, sizeof info->note, 1, "the input gives only %.0f samples a second",
                 info->rate_hz);
    }
}

static bool start_thread(struct device_source *s)
{
    sigset_t all;
    sigset_t before;
    sigfillset(&all); /* signals belong to the main thread */
    pthread_sigmask(SIG_BLOCK, &all, &before);
    s->threaded = pthread_create(&s->thread, NULL, capture_thread, s->device) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return s->threaded;
}

enum thrum_status device_source_open(const struct sound_host *host, const char *name,
                                     struct thrum_source **source, struct thrum_message *message)
{
    *source = NULL;
    message_set(message, "%s", "");
    struct device_source *s = calloc(1, sizeof *s);
    struct device *d = make_device();
    enum thrum_status status = s && d ? THRUM_OK : THRUM_ERR_MEM;
    if (status == THRUM_OK) {
        s->source.read = device_read;
        s->source.close = device_close;
        s->source.look = device_look;
        s->source.offers = device_offers;
        s->device = d;
        status = open_input(&d->capture, host, name, message);
    }
    if (status == THRUM_OK && (!capture_init(&d->capture, host) || (host->threads && !start_thread(s))))
        status = THRUM_ERR_MEM;
    if (status == THRUM_OK) {
        fill_info(s);
        *source = &s->source;
        return THRUM_OK;
    }
    if (status == THRUM_ERR_MEM)
        message_set(message, "not enough memory to open the input; close other programs");
    if (d)
        pa_stream_end(host, &d->capture.pa);
    free_device(d);
    free(s);
    return status;
}

enum thrum_status thrum_source_open_device(const char *name, struct thrum_source **source,
                                           struct thrum_message *message)
{
    struct sound_host host = sound_host_real();
    struct thrum_quiet *quiet = thrum_quiet_begin(NULL);
    enum thrum_status status = device_source_open(&host, name, source, message);
    thrum_quiet_end(quiet);
    return status;
}

uint64_t device_source_overflows(const struct thrum_source *source)
{
    const struct device_source *s = (const struct device_source *)source;
    return atomic_load_explicit(&s->device->capture.overflows, memory_order_relaxed);
}

void device_source_step(struct thrum_source *source)
{
    struct device_source *s = (struct device_source *)source;
    if (!s->threaded)
        capture_step(&s->device->capture);
}
