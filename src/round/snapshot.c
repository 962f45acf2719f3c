/* What is known of a round, as a value. */
#include <stddef.h>
#include <string.h>

#include "round/round_own.h"

/* A snapshot is two megabytes, nearly all of them room: only what is filled is written. These first bytes always are. */
#define HEAD_BYTES offsetof(struct thrum_snapshot, readings)

#define FRESH_S 4.0 /* what is heard in one word looks back no farther */

/* The mark on the bar: what sounded before the first touch, or between touches, is no wire's strength. */
static void mark_best(const struct thrum_round *r, struct thrum_now *now)
{
    for (int i = 0; i < r->config.listener.n_voices; i++) {
        now->best_dbfs[i] = r->so_far.strength[i].heard ? r->so_far.strength[i].dbfs : THRUM_FLOOR_DBFS;
        for (int k = 0; k < r->n_readings; k++) {
            const struct thrum_strength *strength = &r->readings[k].strength[i];
            if (strength->heard && !round_no_strength(&r->readings[k]) && strength->dbfs > now->best_dbfs[i])
                now->best_dbfs[i] = strength->dbfs;
        }
    }
}

/* What is left of the time that was said at the last look. */
static double hold_left_s(const struct thrum_round *r)
{
    double since_s = (double)(r->frames - r->hold_frame) / r->config.listener.rate_hz;
    return r->hold.left_s > since_s ? r->hold.left_s - since_s : 0.0;
}

static bool hears_another_cadence(const struct thrum_reading *reading)
{
    bool heard = false;
    for (int i = 0; i < reading->n_senders; i++)
        heard = heard || reading->strength[i].heard;
    return reading->frames > 0 && !heard && (reading->faults & THRUM_FAULT_OTHER_CADENCE);
}

/* A whole touch knows the cadence better than the last seconds of it, which may be too few beeps to tell. */
static bool another_cadence(const struct thrum_round *r, bool touching)
{
    if (touching || r->n_readings == 0)
        return hears_another_cadence(&r->so_far);
    const struct thrum_reading *last = &r->readings[r->n_readings - 1];
    double since_s =
        ((double)r->frames - (double)(last->first_frame + last->frames)) / r->config.listener.rate_hz;
    return since_s < FRESH_S && hears_another_cadence(last);
}

static void copy_pick(struct thrum_pick *to, const struct thrum_pick *from)
{
    memcpy(to, from, offsetof(struct thrum_pick, rank) + (size_t)from->n_ranked * sizeof *from->rank);
}

void thrum_round_snapshot(struct thrum_round *round, struct thrum_snapshot *snapshot)
{
    struct thrum_round *r = round;
    struct thrum_snapshot *s = snapshot;
    int first, last;
    if (r->stale)
        round_pick_all(r);
    memset(s, 0, HEAD_BYTES);
    s->rate_hz = r->config.listener.rate_hz;
    thrum_listener_now(r->listener, &s->now);
    mark_best(r, &s->now);
    strcpy(s->current, r->current);
    s->halves = r->config.halves;
    s->group = round_group(r, r->current, &first, &last);
    s->group_left_out = s->group && round_left_out(r, first, last);
    s->all_again = round_is_all_again(r);
    s->touching = round_touch_now(r, &s->touch);
    s->so_far = r->so_far;
    if (s->now.heard == THRUM_HEARD_TONE && another_cadence(r, s->touching))
        s->now.heard = THRUM_HEARD_OTHER_CADENCE;
    s->enough = s->touching && r->hold.state != THRUM_HOLD_ON;
    s->hold = s->touching ? r->hold.state : THRUM_HOLD_ON;
    s->taken = s->touching && round_taken(r, &s->touch);
    s->hold_s = s->touching ? hold_left_s(r) : 0.0;
    s->may_be_again = s->touching && !s->taken && round_comes_soon(r, &s->touch) &&
                      strcmp(r->current, r->readings[r->n_readings - 1].wire) != 0;
    s->n_wires = r->n_wires;
    memcpy(s->wire, r->wire, sizeof s->wire);
    memcpy(s->excluded, r->excluded, sizeof s->excluded);
    s->n_readings = r->n_readings;
    s->n_complete = r->finished ? r->n_readings : ahead_first(&r->ahead, r->n_readings);
    memcpy(s->readings, r->readings, (size_t)r->n_readings * sizeof *s->readings);
    s->n_senders = r->config.listener.n_voices;
    memcpy(s->sender, r->config.listener.voice, (size_t)s->n_senders * sizeof *s->sender);
    for (int i = 0; i < s->n_senders; i++)
        copy_pick(&s->pick[i], &r->pick[i]);
    s->finished = r->finished;
}

void thrum_snapshot_reserve(struct thrum_snapshot *snapshot)
{
    memset(snapshot, 0xFF, sizeof *snapshot);
    memset(snapshot, 0, HEAD_BYTES);
    snapshot->n_senders = 0;
    snapshot->finished = false;
}

void thrum_snapshot_copy(struct thrum_snapshot *to, const struct thrum_snapshot *from)
{
    memcpy(to, from, HEAD_BYTES);
    memcpy(to->readings, from->readings, (size_t)from->n_readings * sizeof *to->readings);
    to->n_senders = from->n_senders;
    memcpy(to->sender, from->sender, (size_t)from->n_senders * sizeof *to->sender);
    for (int i = 0; i < from->n_senders; i++)
        copy_pick(&to->pick[i], &from->pick[i]);
    to->finished = from->finished;
}
