#include "listen/touches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/contact.h"
#include "listen/levels.h"
#include "thrum/units.h"

enum { QUEUE = 128 };

#define LOOK_EACH_S 0.5 /* the row of levels is looked at so often */
#define LONG_S      5.0 /* a contact longer than this, or than LONGER typical ones, may be several touches */
#define LONGER      1.7
#define KEYS_LG     (-2.0) /* lg of the chance that noise alone keys so: from here on beeps tell the touches */
#define LEAST_BEEPS 2      /* shorter stretches of one level are the hand moving over */
#define LEAST_S     0.8
#define CUT_DB      1.5 /* a first or last beep so far off its touch was cut by the hand's moving over */
#define MOST_SD_DB  3.0 /* a beep that is not there has the level of the noise, give or take this */

struct span {
    uint64_t first, end;
};

struct thrum_touches {
    double rate_hz;
    struct thrum_touch_tools tools;
    struct thrum_contact *contact;
    uint64_t fed, look_at;
    double typical_s;                         /* running typical length of a contact; 0: none yet */
    struct thrum_level row[THRUM_LEVELS_MAX]; /* beeps not given out yet, times from the start of the sound */
    int in_row;
    uint64_t row_from, row_end; /* the sound the row stands for */
    bool row_open;
    struct span queue[QUEUE];
    int queue_first, queued;
};

enum thrum_status thrum_touches_create(double rate_hz, const struct thrum_touch_tools *tools,
                                       struct thrum_touches **touches)
{
    struct thrum_touches *t = calloc(1, sizeof *t);
    *touches = NULL;
    if (!t)
        return THRUM_ERR_MEM;
    t->rate_hz = rate_hz;
    t->tools = *tools;
    t->look_at = (uint64_t)(LOOK_EACH_S * rate_hz);
    enum thrum_status status = thrum_contact_create(rate_hz, &t->contact);
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
    free(touches);
}

static void push(struct thrum_touches *t, uint64_t first, uint64_t end)
{
    if (t->queued == QUEUE || end <= first)
        return;
    t->queue[(t->queue_first + t->queued++) % QUEUE] = (struct span){first, end};
}

bool thrum_touches_next(struct thrum_touches *touches, uint64_t *first, uint64_t *end)
{
    struct thrum_touches *t = touches;
    if (t->queued == 0)
        return false;
    *first = t->queue[t->queue_first].first;
    *end = t->queue[t->queue_first].end;
    t->queue_first = (t->queue_first + 1) % QUEUE;
    t->queued--;
    return true;
}

/* The beeps of a fit at the row's end, with times from the start of the sound. */
static void add_to_row(struct thrum_touches *t, const struct thrum_touchfit_result *fit, double at_s)
{
    for (int i = 0; i < fit->n_beeps && t->in_row < THRUM_LEVELS_MAX; i++) {
        double v = fit->beep_variance[i], p = fmax(fit->beep_power[i], v);
        t->row[t->in_row++] = (struct thrum_level){
            .from_s = at_s + fit->beep[i].from_s,
            .to_s = at_s + fit->beep[i].to_s,
            .db = thrum_db_from_power(p),
            .sd_db = fmin(4.343 * sqrt(2.0 * p * v + v * v) / p, MOST_SD_DB),
        };
    }
}

static bool is_cut(const struct thrum_level *beep, double db)
{
    return fabs(beep->db - db) > CUT_DB + 2.0 * beep->sd_db;
}

/* A stretch of one level without the beeps at its ends in which the probe moved over. */
static void push_trimmed(struct thrum_touches *t, const struct thrum_level_span *span)
{
    int first = span->first, last = span->end - 1;
    double sum = 0.0;
    for (int i = first + 1; i < last; i++)
        sum += t->row[i].db;
    if (last - first >= 3) {
        double db = sum / (last - first - 1);
        first += is_cut(&t->row[first], db);
        last -= is_cut(&t->row[last], db);
    }
    uint64_t from = (uint64_t)(fmax(t->row[first].from_s, 0.0) * t->rate_hz);
    uint64_t to = (uint64_t)(t->row[last].to_s * t->rate_hz);
    push(t, from > t->row_from ? from : t->row_from, to < t->row_end ? to : t->row_end);
}

/* Give out the touches in the row; unless all is wanted, the last stretch stays for what is still to come. */
static void split_row(struct thrum_touches *t, bool all)
{
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    int n = thrum_levels_split(t->row, t->in_row, spans), kept = 0;
    for (int i = 0; i < n; i++) {
        int beeps = spans[i].end - spans[i].first;
        double from = t->row[spans[i].first].from_s, to = t->row[spans[i].end - 1].to_s;
        if (i == n - 1 && !all) {
            kept = beeps;
            break;
        }
        if (spans[i].lift || (beeps < LEAST_BEEPS && to - from < LEAST_S))
            continue;
        if (n == 1)
            push(t, t->row_from, t->row_end);
        else
            push_trimmed(t, &spans[i]);
    }
    memmove(t->row, t->row + (t->in_row - kept), (size_t)kept * sizeof *t->row);
    t->in_row = kept;
    if (kept > 0 && n > 1)
        t->row_from = (uint64_t)(fmax(t->row[0].from_s, 0.0) * t->rate_hz);
}

static void look_inside(struct thrum_touches *t, const struct thrum_history *history,
                        const struct thrum_contact_span *span, bool goes_on)
{
    uint64_t first = span->first;
    const float *x = thrum_history_part(history, &first);
    struct thrum_clearest clearest = {0};
    if (span->end > first)
        clearest = thrum_clearest_in(&t->tools, x, (size_t)(span->end - first));
    if (!t->row_open || t->in_row == 0)
        t->row_from = first;
    t->row_open = true;
    t->row_end = span->end;
    if (clearest.fit && clearest.strength.score < KEYS_LG)
        add_to_row(t, clearest.fit, (double)first / t->rate_hz);
    else if (t->in_row == 0 && !goes_on)
        push(t, first, span->end); /* no tone in all of it: one touch, without */
    split_row(t, !goes_on || t->in_row > THRUM_LEVELS_MAX / 2);
    t->row_open = goes_on;
}

static void take_contacts(struct thrum_touches *t, const struct thrum_history *history, bool ended)
{
    struct thrum_contact_span span;
    while (thrum_contact_next(t->contact, ended, &span)) {
        double s = (double)(span.end - span.first) / t->rate_hz;
        bool is_long = s > LONG_S && (t->typical_s == 0.0 || s > LONGER * t->typical_s);
        if (span.told && !is_long) {
            if (t->row_open)
                split_row(t, true);
            t->row_open = false;
            push(t, span.first, span.end);
            t->typical_s += (s - t->typical_s) * (t->typical_s == 0.0 ? 1.0 : 0.2);
            continue;
        }
        look_inside(t, history, &span, !span.told && !ended);
    }
    if (ended && t->row_open) {
        split_row(t, true);
        t->row_open = false;
    }
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
