/* Losing the device, and finding it or another one again. */
#include <string.h>

#include "sound/capture_own.h"
#include "sound/device_list.h"
#include "sound/message.h"

#define RETRY_NS 2000000000u

void capture_go_away(struct capture *c, const char *text)
{
    bool was_returning = c->state == CAPTURE_RETURNING;
    if (!was_returning) {
        ring_drop(c->wishes); /* of the time before */
        c->missing = frame_clock_missing(&c->clock, c->last_frame_ns, c->taken + c->known_lost);
    }
    pa_stream_close(&c->host, &c->pa);
    c->state = CAPTURE_AWAY;
    c->next_try_ns = c->host.now_ns(c->host.context) + (was_returning ? RETRY_NS : 0);
    if (!was_returning)
        capture_tell(c, THRUM_SOURCE_GONE, 0, text);
}

static void give_up(struct capture *c, const char *text)
{
    pa_stream_close(&c->host, &c->pa);
    c->state = CAPTURE_OVER;
    capture_tell(c, THRUM_SOURCE_FAILED, 0, text);
}

/* Does the device come back with other numbers? Then the round cannot go on with it. */
static bool came_back_different(struct capture *c, int device, const struct thrum_input *input)
{
    struct thrum_message why;
    char text[200];
    enum pa_result result = pa_stream_open(&c->host, &c->pa, device, input, 0.0, 0, &why);
    if (result != PA_DONE)
        return false;
    text_set(
        text, sizeof text, 0,
        "the input is back, but with %.0f Hz and %d channels in place of %.0f Hz and %d: start a new round",
        c->pa.rate_hz, c->pa.channels, c->rate_hz, c->channels);
    give_up(c, text);
    return true;
}

/* What else is there: for somebody who may choose. A monitor hears no probe. */
static void offer(struct capture *c, const struct device_list *list)
{
    struct thrum_offers offers = {.n = 0};
    for (int i = 0; i < list->n && offers.n < THRUM_OFFERS; i++)
        if (!list->entry[i].info.monitor)
            memcpy(offers.name[offers.n++], list->entry[i].info.name, sizeof offers.name[0]);
    (void)ring_write(c->offers, &offers, 1);
}

static void begin_returning(struct capture *c)
{
    c->state = CAPTURE_RETURNING;
    c->heard = false;
    c->kicked = false;
    c->flagged = false;
    c->idle_s = 0.0;
    c->taken = 0;
    c->known_lost = 0;
    capture_count_anew(c);
}

static void try_same(struct capture *c, const struct device_list *list)
{
    struct thrum_message why;
    int found = device_list_exact(list, c->input.name);
    if (found < 0)
        return;
    const struct device_entry *e = &list->entry[found];
    enum pa_result result =
        pa_stream_open(&c->host, &c->pa, e->device, &e->info, c->rate_hz, c->channels, &why);
    if (result == PA_DONE)
        begin_returning(c);
    else if (result == PA_REFUSED)
        (void)came_back_different(c, e->device, &e->info);
}

/* Another input in its place: with as many channels, or with one that is given on all of them. */
static enum pa_result open_other(struct capture *c, const struct device_list *list, struct thrum_message *why)
{
    int found = device_list_exact(list, c->wanted);
    if (found < 0) {
        message_set(why, "the input '%s' is not there any more", c->wanted);
        return PA_REFUSED;
    }
    const struct device_entry *e = &list->entry[found];
    enum pa_result result =
        pa_stream_open(&c->host, &c->pa, e->device, &e->info, c->rate_hz, c->channels, why);
    if (result == PA_REFUSED && c->channels > 1)
        result = pa_stream_open(&c->host, &c->pa, e->device, &e->info, c->rate_hz, 1, why);
    if (result == PA_DONE) {
        c->input = e->info;
    } else if (result == PA_REFUSED) {
        message_set(why,
                    "the input '%s' does not give %.0f Hz, as this round needs; f ends it, then begin one "
                    "with that input",
                    c->wanted, c->rate_hz);
    }
    return result;
}

static void try_other(struct capture *c, const struct device_list *list)
{
    struct thrum_message why;
    char text[200];
    if (open_other(c, list, &why) == PA_DONE) {
        c->delivered_hz = c->rate_hz;
        begin_returning(c);
    } else {
        text_set(text, sizeof text, 0, "INPUT LOST - %.180s", why.text);
        capture_tell(c, THRUM_SOURCE_GONE, 0, text);
    }
    c->wanted[0] = '\0';
}

static void try_again(struct capture *c)
{
    struct thrum_message why;
    struct device_list list;
    c->next_try_ns = c->host.now_ns(c->host.context) + RETRY_NS;
    if (pa_stream_begin(&c->host, &c->pa, &why) != PA_DONE || device_list_make(&list, false) != THRUM_OK)
        return;
    offer(c, &list);
    if (c->wanted[0])
        try_other(c, &list);
    else
        try_same(c, &list);
    device_list_free(&list);
}

/* The newest counts. */
static void take_wishes(struct capture *c)
{
    struct capture_wish wish;
    while (ring_read(c->wishes, &wish, 1) == 1) {
        memcpy(c->wanted, wish.input, sizeof c->wanted);
        c->next_try_ns = 0;
    }
}

void capture_look(struct capture *c, uint64_t now_ns)
{
    take_wishes(c);
    if (now_ns >= c->next_try_ns)
        try_again(c);
}
