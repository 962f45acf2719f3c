#include "thrum/round.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bundle/share.h"
#include "round/riding.h"
#include "round/round_own.h"
#include "round/tags.h"

#define LOOK_EACH_S 0.5 /* the touch in progress is measured so often... */
#define LOOK_MANY_S 1.0 /* ...with more than two senders, each of which is measured in it */
#define ENOUGH_EACH 4   /* once it is enough, at every so many looks only */
/* Back on a wire so soon after a touch that was not enough, the probe had slipped; a little later it may have, or it is the next
 * wire: hands move on as fast. */
#define SLIP_S  0.4
#define AGAIN_S 1.5

enum thrum_status thrum_round_create(const struct thrum_round_config *config, struct thrum_round **round)
{
    *round = NULL;
    if (config->n_wires < 0 || config->n_wires > THRUM_MAX_WIRES ||
        (config->halves && config->listener.n_voices > 1))
        return THRUM_ERR_ARG;
    struct thrum_round *r = calloc(1, sizeof *r);
    if (!r)
        return THRUM_ERR_MEM;
    /* Readings' room is taken now: a long round does not grow. */
    memset(r->readings, 0xFF, sizeof r->readings);
    memset(r->touches, 0xFF, sizeof r->touches);
    r->config = *config;
    r->config.listener.find_touches = config->hands_free;
    r->config.take_when_enough = config->hands_free && config->take_when_enough;
    r->look_each =
        (uint64_t)((config->listener.n_voices > 2 ? LOOK_MANY_S : LOOK_EACH_S) * config->listener.rate_hz);
    r->look_at = r->look_each;
    r->stale = true;
    round_forget_so_far(r);
    strcpy(r->current, "1");
    enum thrum_status status = thrum_listener_create(&r->config.listener, &r->listener);
    if (!status && config->listener.n_voices > 1)
        status = thrum_assign_create(THRUM_MAX_WIRES, config->listener.n_voices, &r->assign);
    if (status) {
        thrum_round_destroy(r);
        return status;
    }
    *round = r;
    return THRUM_OK;
}

void thrum_round_destroy(struct thrum_round *round)
{
    if (!round)
        return;
    thrum_listener_destroy(round->listener);
    thrum_assign_destroy(round->assign);
    free(round);
}

enum thrum_status thrum_round_add(struct thrum_round *round, const struct thrum_reading *reading)
{
    struct thrum_round *r = round;
    if (!thrum_tag_ok(reading->wire) || reading->n_senders != r->config.listener.n_voices)
        return THRUM_ERR_ARG;
    int first, last;
    bool group = round_group(r, reading->wire, &first, &last);
    if (r->n_readings == THRUM_MAX_READINGS || (!group && round_wire(r, reading->wire) < 0))
        return THRUM_ERR_FULL;
    struct thrum_reading *kept = &r->readings[r->n_readings];
    *kept = *reading;
    kept->touch = round_touches(r, reading->wire) + 1;
    r->n_readings++;
    r->stale = true;
    return THRUM_OK;
}

static enum thrum_status take(struct thrum_round *r, const char *tag, struct thrum_span span)
{
    struct thrum_reading reading;
    enum thrum_status status = thrum_listener_measure(r->listener, span, &reading);
    if (status)
        return status;
    strcpy(reading.wire, tag);
    return thrum_round_add(r, &reading);
}

/* A touch that is over shows where the sender is. One taken ahead is not over: its recording has the whole of it. */
static void follow(struct thrum_round *r, int i)
{
    thrum_listener_follow(r->listener, &r->readings[i]);
}

enum thrum_status thrum_round_mark(struct thrum_round *round, const char *tag, struct thrum_span span)
{
    enum thrum_status status = thrum_tag_ok(tag) ? take(round, tag, span) : THRUM_ERR_ARG;
    if (status == THRUM_OK)
        follow(round, round->n_readings - 1);
    return status;
}

/* The same sound measured over another length; tag and number stay. */
static void complete(struct thrum_round *r, int i, struct thrum_span span)
{
    struct thrum_reading reading;
    if (thrum_listener_measure(r->listener, span, &reading) != THRUM_OK)
        return;
    memcpy(reading.wire, r->readings[i].wire, sizeof reading.wire);
    reading.touch = r->readings[i].touch;
    reading.faults |= r->readings[i].faults & THRUM_FAULT_NOT_COMPARED;
    r->readings[i] = reading;
    r->stale = true;
    follow(r, i);
}

bool round_comes_soon(const struct thrum_round *r, const struct thrum_span *span)
{
    uint64_t within = (uint64_t)((r->last_short ? AGAIN_S : SLIP_S) * r->config.listener.rate_hz);
    return r->last_end > 0 && r->n_readings > 0 && span->first < r->last_end + within;
}

/* After a slip the touch is one more of the wire before: said once, so that a key may overrule it. A probe that bounced when it was
 * lifted is another such slip; but who rests on after a touch that was enough may be on the next wire, however fast. */
static bool recover_slip(struct thrum_round *r, const struct thrum_span *span, bool is_over)
{
    uint64_t slip = (uint64_t)(SLIP_S * r->config.listener.rate_hz);
    if (r->typed || !(r->last_short || is_over) || !round_comes_soon(r, span) ||
        span->first >= r->last_end + slip)
        return false;
    strcpy(r->current, r->readings[r->n_readings - 1].wire);
    r->last_end = 0;
    return true;
}

/* A touch of the current wire, which moves on. */
static enum thrum_status take_next(struct thrum_round *r, struct thrum_span span)
{
    recover_slip(r, &span, false);
    r->last_end = 0;
    r->typed = false;
    enum thrum_status status = take(r, r->current, span);
    if (status == THRUM_OK)
        round_move_on(r);
    return status;
}

static void remember_end(struct thrum_round *r, uint64_t end, bool is_short)
{
    r->last_end = r->config.take_when_enough ? end : 0;
    r->last_short = is_short;
}

/* Touches that the listener found become readings, unless they are already. */
static void take_found(struct thrum_round *r)
{
    struct thrum_span span;
    while (thrum_listener_next_touch(r->listener, &span)) {
        int i = ahead_found(&r->ahead, span);
        if (i >= 0 && i < r->n_readings) {
            complete(r, i, span);
            remember_end(r, i == r->n_readings - 1 ? span.end : 0, false);
        } else if (i == AHEAD_NEW) {
            bool is_short = !recover_slip(r, &span, true) || r->last_short;
            if (take_next(r, span) != THRUM_OK)
                continue;
            follow(r, r->n_readings - 1);
            remember_end(r, span.end, is_short);
        }
    }
}

bool round_touch_now(const struct thrum_round *r, struct thrum_span *span)
{
    struct thrum_now now;
    span->end = r->frames;
    span->first = r->touch_first;
    if (r->touching)
        return span->end > span->first;
    if (!r->config.hands_free)
        return false;
    thrum_listener_now(r->listener, &now);
    span->first = now.on_wire_since;
    return now.on_wire && span->end > span->first;
}

/* Lower end of the strongest reading of each sender. */
static void strongest(const struct thrum_round *r, double *low_db)
{
    for (int s = 0; s < r->config.listener.n_voices; s++) {
        low_db[s] = THRUM_FLOOR_DBFS;
        for (int i = 0; i < r->n_readings; i++) {
            const struct thrum_strength *strength = &r->readings[i].strength[s];
            if (strength->heard && !round_no_strength(&r->readings[i]) && strength->low_db > low_db[s])
                low_db[s] = strength->low_db;
        }
    }
}

/* Once enough, it stays so: an interval that grows a little again is no reason to call the hand back. */
static void judge_hold(struct thrum_round *r)
{
    double cycle_s[THRUM_MAX_SENDERS], best_low_db[THRUM_MAX_SENDERS];
    strongest(r, best_low_db);
    for (int i = 0; i < r->config.listener.n_voices; i++)
        cycle_s[i] = thrum_voice_cycle_s(&r->config.listener.voice[i]);
    if (r->hold.state == THRUM_HOLD_ON)
        r->hold = hold_judge(&r->so_far, cycle_s, best_low_db);
    r->hold_frame = r->frames;
}

bool round_taken(const struct thrum_round *r, const struct thrum_span *span)
{
    return !r->touching && r->taken_at > span->first;
}

static enum thrum_status take_ahead(struct thrum_round *r, struct thrum_span span)
{
    enum thrum_status status = take_next(r, span);
    if (status)
        return status;
    r->taken_at = r->frames;
    ahead_add(&r->ahead, span, r->n_readings - 1);
    return THRUM_OK;
}

static void look(struct thrum_round *r)
{
    struct thrum_span span;
    if (!r->config.listener.bar || !round_touch_now(r, &span)) {
        round_forget_so_far(r);
        return;
    }
    if (r->so_far.frames > 0 && span.first > r->so_far.first_frame + r->look_each)
        round_forget_so_far(r); /* another touch */
    if (!round_taken(r, &span))
        recover_slip(r, &span, false);
    if (r->hold.state != THRUM_HOLD_ON && ++r->looks_since_enough % ENOUGH_EACH != 0)
        return;
    thrum_listener_measure(r->listener, span, &r->so_far);
    judge_hold(r);
    if (r->config.take_when_enough && !r->touching && !round_taken(r, &span) &&
        r->hold.state != THRUM_HOLD_ON)
        take_ahead(r, span);
}

void thrum_round_feed(struct thrum_round *round, const float *samples, size_t n_frames)
{
    struct thrum_round *r = round;
    size_t width = (size_t)r->config.listener.channels;
    if (r->finished)
        return;
    while (n_frames > 0) {
        uint64_t until = r->look_at - r->frames;
        size_t n = until < n_frames ? (size_t)until : n_frames;
        thrum_listener_feed(r->listener, samples, n);
        r->frames += n;
        samples += n * width;
        n_frames -= n;
        take_found(r);
        if (r->frames == r->look_at) {
            look(r);
            r->look_at += r->look_each;
        }
    }
}

void thrum_round_lost(struct thrum_round *round, uint64_t n_frames)
{
    struct thrum_round *r = round;
    if (r->finished)
        return;
    thrum_listener_lost(r->listener, n_frames);
    r->frames += n_frames;
    while (r->look_at <= r->frames)
        r->look_at += r->look_each;
    take_found(r);
}

void thrum_round_input_faults(struct thrum_round *round, uint32_t faults)
{
    thrum_listener_input_faults(round->listener, faults);
}

void thrum_round_other_input(struct thrum_round *round)
{
    struct thrum_round *r = round;
    for (int i = 0; i < r->n_readings; i++)
        r->readings[i].faults |= THRUM_FAULT_NOT_COMPARED;
    r->touching = false;
    r->last_end = 0;
    r->stale = true;
    round_forget_so_far(r);
}

double thrum_round_elsewhere(struct thrum_round *round, int i, double share)
{
    if (i < 0 || i >= round->n_readings)
        return -(double)INFINITY;
    const struct thrum_reading *reading = &round->readings[i];
    struct thrum_span span = {reading->first_frame, reading->first_frame + reading->frames};
    return thrum_listener_elsewhere(round->listener, span, share);
}

enum thrum_status thrum_round_aim(struct thrum_round *round, double tone_hz)
{
    struct thrum_round *r = round;
    uint64_t kept = (uint64_t)(THRUM_KEEP_S * r->config.listener.rate_hz);
    enum thrum_status status = thrum_listener_aim(r->listener, tone_hz);
    for (int i = 0; i < r->n_readings && status == THRUM_OK; i++) {
        struct thrum_reading *reading = &r->readings[i];
        struct thrum_span span = {reading->first_frame, reading->first_frame + reading->frames};
        if (reading->strength[0].heard)
            continue;
        if (span.first + kept > r->frames)
            complete(r, i, span);
        else
            reading->faults |= THRUM_FAULT_NOT_COMPARED;
    }
    r->stale = true;
    round_forget_so_far(r);
    return status;
}

bool round_no_strength(const struct thrum_reading *reading)
{
    return reading->faults & (THRUM_FAULT_SILENT | THRUM_FAULT_NOT_COMPARED);
}

static enum thrum_status end_touch(struct thrum_round *r)
{
    struct thrum_span span = {r->touch_first, r->frames};
    r->touching = false;
    round_forget_so_far(r);
    if (r->config.hands_free)
        ahead_add(&r->ahead, span, AHEAD_DONE);
    enum thrum_status status = take_next(r, span);
    if (status == THRUM_OK)
        follow(r, r->n_readings - 1);
    return status;
}

void thrum_round_end(struct thrum_round *round)
{
    struct thrum_round *r = round;
    if (r->finished)
        return;
    thrum_listener_finish(r->listener);
    take_found(r);
    if (r->touching)
        end_touch(r);
    r->finished = true;
}

static enum thrum_status toggle_touch(struct thrum_round *r)
{
    struct thrum_span span;
    if (r->touching)
        return end_touch(r);
    if (r->n_readings == THRUM_MAX_READINGS)
        return THRUM_ERR_FULL;
    if (r->config.take_when_enough && round_touch_now(r, &span))
        return round_taken(r, &span) ? THRUM_OK : take_ahead(r, span);
    round_forget_so_far(r);
    r->touching = true;
    r->touch_first = r->frames;
    judge_hold(r);
    return THRUM_OK;
}

static enum thrum_status toggle_excluded(struct thrum_round *r)
{
    int wire = round_find_wire(r, r->current);
    return thrum_round_exclude(r, r->current, wire < 0 || !r->excluded[wire]);
}

/* The last touch is the one in progress, as long as it has not been taken: only its tag is to be mended then, unless a tag was
 * typed to mend from there on. */
static enum thrum_status mend_tags(struct thrum_round *r, int by, bool typed)
{
    struct thrum_span span;
    char before[THRUM_WIRE_TAG_SIZE];
    if (typed || !round_touch_now(r, &span) || round_taken(r, &span))
        return round_move_tags(r, by);
    strcpy(before, r->current);
    if (!round_move_group(r, by))
        thrum_tag_move(r->current, by);
    return strcmp(before, r->current) == 0 ? THRUM_ERR_NOT_FOUND : THRUM_OK;
}

enum thrum_status thrum_round_act(struct thrum_round *round, enum thrum_action action, const char *tag)
{
    struct thrum_round *r = round;
    bool typed = r->typed;
    r->typed = action == THRUM_GO_TO;
    switch (action) {
    case THRUM_TAKE:
        return toggle_touch(r);
    case THRUM_NEXT:
        if (!round_move_group(r, 1))
            thrum_tag_move(r->current, 1);
        return THRUM_OK;
    case THRUM_PREVIOUS:
        if (!round_move_group(r, -1))
            thrum_tag_move(r->current, -1);
        return THRUM_OK;
    case THRUM_GO_TO:
        if (!thrum_tag_ok(tag) || round_no_group(r, tag))
            return THRUM_ERR_ARG;
        strcpy(r->current, tag);
        return THRUM_OK;
    case THRUM_REPEAT:
        if (r->n_readings == 0)
            return THRUM_ERR_NOT_FOUND;
        strcpy(r->current, r->readings[r->n_readings - 1].wire);
        return THRUM_OK;
    case THRUM_NEW:
        if (r->config.halves)
            round_follow(r);
        else
            round_to_new_wire(r);
        return THRUM_OK;
    case THRUM_ALL_AGAIN:
        if (r->config.halves || r->n_wires == 0)
            return THRUM_ERR_NOT_FOUND;
        round_all_again(r);
        return THRUM_OK;
    case THRUM_UNDO:
        return round_undo(r);
    case THRUM_DROP:
        return round_drop(r);
    case THRUM_EXCLUDE:
        return toggle_excluded(r);
    case THRUM_TAG_LOWER:
        return mend_tags(r, -1, typed);
    case THRUM_TAG_HIGHER:
        return mend_tags(r, 1, typed);
    case THRUM_FINISH:
        thrum_round_end(r);
        return THRUM_OK;
    }
    return THRUM_ERR_ARG;
}

/* One sender's touches, in the order made. */
static int list_touches(struct thrum_round *r, int sender)
{
    int n = 0, first, last;
    for (int i = 0; i < r->n_readings; i++) {
        const struct thrum_reading *reading = &r->readings[i];
        const struct thrum_strength *strength = &reading->strength[sender];
        if (round_no_strength(reading) || round_group(r, reading->wire, &first, &last))
            continue;
        r->touches[n++] = (struct thrum_touch){.wire = round_find_wire(r, reading->wire),
                                               .heard = strength->heard,
                                               .dbfs = strength->dbfs,
                                               .sd_db = strength->sd_db,
                                               .high_db = strength->high_db,
                                               .at_s = (double)reading->first_frame / reading->rate_hz,
                                               .faults = reading->faults};
    }
    return n;
}

void round_pick_all(struct thrum_round *r)
{
    int n_wires = r->n_wires > r->config.n_wires ? r->n_wires : r->config.n_wires;
    r->pick_config = r->config.pick;
    memcpy(r->pick_config.excluded, r->excluded, sizeof r->excluded);
    thrum_riding_mark(r->readings, r->n_readings);
    for (int s = 0; s < r->config.listener.n_voices; s++) {
        int n = list_touches(r, s);
        memset(&r->pick[s], 0, sizeof r->pick[s]);
        r->pick[s].wire = r->pick[s].next_touch = -1;
        r->pick[s].outcome = THRUM_TOO_CLOSE;
        if (n_wires > 0)
            thrum_pick_compute(&r->pick_config, n_wires, r->touches, n, &r->pick[s]);
        if (n_wires > 0 && r->config.halves)
            thrum_halves_join(&r->pick_config, r->groups, round_list_groups(r), &r->pick[s]);
    }
    if (r->assign)
        thrum_share_picks(r->assign, &r->pick_config, r->pick, r->config.listener.n_voices);
    r->stale = false;
}

int thrum_round_n_readings(const struct thrum_round *round)
{
    return round->n_readings;
}

double thrum_round_bar_dbfs(const struct thrum_round *round, int sender)
{
    return thrum_listener_bar_dbfs(round->listener, sender);
}

const char *thrum_round_touched(const struct thrum_round *round)
{
    struct thrum_span span;
    return round_touch_now(round, &span) ? round->current : NULL;
}
