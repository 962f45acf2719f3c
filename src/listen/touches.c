#include "listen/touches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/contact.h"
#include "listen/levelrow.h"
#include "listen/levels.h"

enum { QUEUE = 128 };

#define LOOK_EACH_S 0.5 /* the row of levels is looked at so often */
#define LONG_S      5.0 /* a contact longer than this and... */
#define LONG_CYCLES 5.0 /* ...so many cycles, and than LONGER typical ones, may be several touches */
#define LONGER      1.7
#define KEYS_LG     (-2.0) /* lg of the chance that noise alone keys so: from here on beeps tell the touches */
#define SETTLE_S    2.0    /* a touch is given out when it ended so long ago */
#define DOUBT       0.05   /* chance of a miscount that is worth telling */

struct span {
    uint64_t first, end;
    bool in_doubt;
};

struct thrum_touches {
    double rate_hz;
    struct thrum_touch_tools tools;
    struct thrum_contact *contact;
    struct thrum_levels *levels;
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    uint64_t fed, look_at;
    double long_s;    /* a shorter contact is one touch */
    double typical_s; /* running typical length of a contact; 0: none yet */
    struct thrum_level
        row[THRUM_LEVELS_MAX]; /* levels not given out yet, times from the start of the sound */
    int in_row;
    uint64_t row_from, row_end; /* the sound the row stands for */
    bool told;                  /* the hum told where the row begins and ends */
    bool row_open, given;       /* given: some of its touches have been given out */
    bool carried;               /* something is known to have ended before the row, ... */
    double before_s;            /* ...at this time */
    bool row_keys;              /* there is a tone somewhere in the row */
    double doubt;               /* chance that the touches given out are not as many as there were */
    struct span queue[QUEUE];
    int queue_first, queued;
};

enum thrum_status thrum_touches_create(double rate_hz, const struct thrum_touch_tools *tools, double cycle_s,
                                       struct thrum_touches **touches)
{
    struct thrum_touches *t = calloc(1, sizeof *t);
    *touches = NULL;
    if (!t)
        return THRUM_ERR_MEM;
    t->rate_hz = rate_hz;
    t->tools = *tools;
    t->long_s = fmax(LONG_S, LONG_CYCLES * cycle_s);
    t->look_at = (uint64_t)(LOOK_EACH_S * rate_hz);
    enum thrum_status status = thrum_contact_create(rate_hz, &t->contact);
    if (!status)
        status = thrum_levels_create(&t->levels);
    if (status) {
        thrum_touches_destroy(t);
        return status;
    }
    *touches = t;
    return THRUM_OK;
}

void thrum_touches_destroy(struct thrum_touches *touches)
{
    if (!touches)
        return;
    thrum_contact_destroy(touches->contact);
    thrum_levels_destroy(touches->levels);
    free(touches);
}

/* Chance that at least one of two things went wrong. */
static double either(double a, double b)
{
    return 1.0 - (1.0 - a) * (1.0 - b);
}

/* One touch more; doubt: chance that its number in the row is wrong. */
static void push(struct thrum_touches *t, uint64_t first, uint64_t end, double doubt)
{
    if (t->queued == QUEUE || end <= first)
        return;
    t->queue[(t->queue_first + t->queued++) % QUEUE] =
        (struct span){first, end, either(t->doubt, doubt) > DOUBT};
}

bool thrum_touches_next(struct thrum_touches *touches, uint64_t *first, uint64_t *end, bool *in_doubt)
{
    struct thrum_touches *t = touches;
    if (t->queued == 0)
        return false;
    *first = t->queue[t->queue_first].first;
    *end = t->queue[t->queue_first].end;
    *in_doubt = t->queue[t->queue_first].in_doubt;
    t->queue_first = (t->queue_first + 1) % QUEUE;
    t->queued--;
    return true;
}

/* A touch in the row, ending where the next one or a lift begins. */
static void push_span(struct thrum_touches *t, const struct thrum_level_span *span, bool first, bool last)
{
    double from = t->row[span->first].from_s, to = t->row[span->end - 1].to_s;
    uint64_t begin = first ? t->row_from : (uint64_t)(fmax(from, 0.0) * t->rate_hz);
    uint64_t end = last ? t->row_end : (uint64_t)(to * t->rate_hz);
    push(t, begin > t->row_from ? begin : t->row_from, end < t->row_end ? end : t->row_end, span->doubt);
}

/* Where the hum told both ends of the row, its first touch begins and its last one ends there. */
static void keep_told_ends(struct thrum_level_span *spans, int *n)
{
    for (; *n > 1 && spans[*n - 1].lift; --*n)
        spans[*n - 2].end = spans[*n - 1].end;
    for (; *n > 1 && spans[0].lift; --*n) {
        spans[1].first = spans[0].first;
        memmove(spans, spans + 1, (size_t)(*n - 1) * sizeof *spans);
    }
    spans[0].lift = false;
}

/* How many stretches may be given out: those up to the last wire with tone that did not end just now. */
static int settled(const struct thrum_touches *t, int n)
{
    int give = 0;
    for (int i = 0; i < n - 1 && t->row[t->spans[i].end - 1].to_s <= t->row[t->in_row - 1].to_s - SETTLE_S;
         i++)
        if (!t->spans[i].lift && !t->spans[i].toneless)
            give = i + 1;
    return give;
}

/* Give out the touches in the row; unless all is wanted, those that are not settled wait for what is still to come. */
static void split_row(struct thrum_touches *t, bool all)
{
    int n = thrum_levels_split(t->levels, t->row, t->in_row, t->carried ? &t->before_s : NULL, t->spans);
    if (t->told && n > 0)
        keep_told_ends(t->spans, &n);
    int give = all ? n : settled(t, n), given = 0;
    double doubt = 0.0;
    for (int i = 0; i < give; i++) {
        const struct thrum_level_span *span = &t->spans[i];
        given = span->end;
        if (span->lift)
            continue;
        push_span(t, span, i == 0 && !t->given, all && i == n - 1);
        doubt = span->doubt;
    }
    thrum_levels_given(t->levels, t->spans, give);
    if (given > 0) {
        t->doubt = either(t->doubt, doubt);
        t->before_s = t->row[given - 1].to_s;
        t->carried = t->given = true;
        t->in_row -= given;
        memmove(t->row, t->row + given, (size_t)t->in_row * sizeof *t->row);
    }
}

static void end_row(struct thrum_touches *t)
{
    if (t->row_keys)
        split_row(t, true);
    else if (!t->given)
        push(t, t->row_from, t->row_end, 0.0); /* no tone in all of it: one touch, without */
    t->in_row = 0;
    t->row_open = t->row_keys = false;
}

/* A row that grows too long is cut somewhere, and nobody knows how many wires there have been. */
static void cut_row(struct thrum_touches *t)
{
    if (t->row_keys)
        split_row(t, true);
    t->in_row = 0;
    t->doubt = 1.0;
}

static void look_inside(struct thrum_touches *t, const struct thrum_history *history,
                        const struct thrum_contact_span *span, bool goes_on)
{
    uint64_t first = span->first;
    const float *x = thrum_history_part(history, &first);
    struct thrum_clearest clearest = {0};
    if (span->end > first)
        clearest = thrum_clearest_in(&t->tools, x, (size_t)(span->end - first));
    if (!t->row_open) {
        t->given = false;
        t->row_from = first;
        t->told = t->carried = span->told; /* the contact begins where the hum says */
        t->before_s = (double)first / t->rate_hz;
    }
    t->row_open = true;
    t->row_end = span->end;
    bool keys = clearest.fit && clearest.strength.score < KEYS_LG;
    if (clearest.fit && (keys || !span->told)) /* without hum, quiet may be wires without tone */
        t->in_row +=
            thrum_levelrow_fill(t->tools.fits[clearest.voice], clearest.fit, (double)first / t->rate_hz,
                                t->row + t->in_row, THRUM_LEVELS_MAX - t->in_row);
    t->row_keys |= keys;
    if (!goes_on)
        end_row(t);
    else if (t->in_row > THRUM_LEVELS_MAX / 2)
        cut_row(t);
    else if (t->row_keys)
        split_row(t, false);
}

static void take_contacts(struct thrum_touches *t, const struct thrum_history *history, bool ended)
{
    struct thrum_contact_span span;
    while (thrum_contact_next(t->contact, ended, &span)) {
        double s = (double)(span.end - span.first) / t->rate_hz;
        if (span.told)
            thrum_levels_learn_lifts(t->levels);
        bool is_long = s > t->long_s && (t->typical_s == 0.0 || s > LONGER * t->typical_s);
        if (span.told && !is_long) {
            if (t->row_open)
                end_row(t);
            push(t, span.first, span.end, 0.0);
            thrum_levels_learn_touch(t->levels, s);
            t->typical_s += (s - t->typical_s) * (t->typical_s == 0.0 ? 1.0 : 0.2);
            continue;
        }
        look_inside(t, history, &span, !span.told && !ended);
    }
    if (ended && t->row_open)
        end_row(t);
}

void thrum_touches_feed(struct thrum_touches *touches, const struct thrum_history *history, const float *x,
                        size_t n)
{
    struct thrum_touches *t = touches;
    while (n > 0) {
        size_t take = (size_t)(t->look_at - t->fed) < n ? (size_t)(t->look_at - t->fed) : n;
        thrum_contact_feed(t->contact, x, take);
        t->fed += take;
        x += take;
        n -= take;
        if (t->fed == t->look_at) {
            take_contacts(t, history, false);
            t->look_at += (uint64_t)(LOOK_EACH_S * t->rate_hz);
        }
    }
}

void thrum_touches_finish(struct thrum_touches *touches, const struct thrum_history *history)
{
    take_contacts(touches, history, true);
}

bool thrum_touches_on_wire(const struct thrum_touches *touches, uint64_t *since)
{
    return thrum_contact_now(touches->contact, since);
}
