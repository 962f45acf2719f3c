#include "scenes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define RATE  48000.0
#define WIRES 24

static const char *const names[SCENES] = {
    [SCENE_START] = "start",
    [SCENE_HOLD] = "hold",
    [SCENE_ENOUGH] = "enough",
    [SCENE_WEAKER] = "weaker",
    [SCENE_HOPELESS] = "hopeless",
    [SCENE_TAKEN] = "taken",
    [SCENE_PICKED] = "picked",
    [SCENE_CLOSE] = "close",
    [SCENE_CHECK_TAG] = "check-tag",
    [SCENE_UNTRUSTED] = "untrusted",
    [SCENE_NO_TONE] = "no-tone",
    [SCENE_EVERYWHERE] = "everywhere",
    [SCENE_SILENCE] = "silence",
    [SCENE_TOO_LOW] = "too-low",
    [SCENE_OTHER_CADENCE] = "other-cadence",
    [SCENE_OVERLOAD] = "overload",
    [SCENE_WAIT] = "wait",
    [SCENE_LOST] = "lost",
    [SCENE_ENDED] = "ended",
    [SCENE_FINISHED] = "finished",
    [SCENE_TWO_SENDERS] = "two-senders",
    [SCENE_ONE_WIRE] = "one-wire",
    [SCENE_RECORDING_FAILED] = "rec-failed",
    [SCENE_HALVES] = "halves",
    [SCENE_NONSENSE] = "nonsense",
};

const char *scene_text(enum scene_name name)
{
    return name < SCENES ? names[name] : NULL;
}

static void lay_wires(struct thrum_snapshot *snapshot)
{
    snapshot->rate_hz = RATE;
    snapshot->n_wires = WIRES;
    for (int i = 0; i < WIRES; i++)
        snprintf(snapshot->wire[i], sizeof snapshot->wire[i], "%d", i + 1);
    snprintf(snapshot->current, sizeof snapshot->current, "%d", 1);
    snapshot->n_senders = 1;
    snapshot->sender[0] = thrum_voice_beep(1037.0, 0.25, 0.25);
    struct thrum_pick *pick = &snapshot->pick[0];
    *pick = (struct thrum_pick){.outcome = THRUM_TOO_CLOSE, .wire = 0, .next_touch = 0, .n_ranked = WIRES};
    for (int i = 0; i < WIRES; i++)
        pick->rank[i] = (struct thrum_wire_rank){.wire = i, .dbfs = THRUM_FLOOR_DBFS, .chance = 1.0 / WIRES};
}

static void hear_hum(struct thrum_snapshot *snapshot)
{
    struct thrum_now *now = &snapshot->now;
    now->frames = (uint64_t)(RATE * 75.0);
    now->heard = THRUM_HEARD_NO_TONE;
    for (int i = 0; i < THRUM_MAX_SENDERS; i++)
        now->bar_dbfs[i] = now->steady_dbfs[i] = now->best_dbfs[i] = -88.0;
    now->hum_dbfs = -25.1;
    now->mains_hz = 59.98;
    now->hum_removed_db = 31.2;
    now->peak_dbfs = -20.0;
}

static void hear_beeps(struct thrum_snapshot *snapshot, double dbfs, double best_dbfs)
{
    snapshot->now.heard = THRUM_HEARD_TONE;
    snapshot->now.bar_dbfs[0] = snapshot->now.steady_dbfs[0] = dbfs;
    snapshot->now.best_dbfs[0] = best_dbfs;
}

static void touch(struct thrum_snapshot *snapshot, int wire, double seconds, double dbfs, double half_db)
{
    snprintf(snapshot->current, sizeof snapshot->current, "%d", wire + 1);
    snapshot->touching = true;
    snapshot->touch.end = snapshot->now.frames;
    snapshot->touch.first = snapshot->touch.end - (uint64_t)(seconds * RATE);
    snapshot->hold = THRUM_HOLD_ON;
    snapshot->hold_s = 2.3;
    struct thrum_reading *reading = &snapshot->so_far;
    *reading = (struct thrum_reading){.frames = (uint64_t)(seconds * RATE), .rate_hz = RATE, .n_senders = 1};
    reading->strength[0] = (struct thrum_strength){
        .heard = true, .dbfs = dbfs, .low_db = dbfs - half_db, .high_db = dbfs + half_db};
}

static void hold_enough(struct thrum_snapshot *snapshot, enum thrum_hold hold)
{
    touch(snapshot, 7, 3.1, -46.8, 0.4);
    snapshot->enough = true;
    snapshot->hold = hold;
    snapshot->hold_s = 0.0;
}

/* The first n wires have been touched; strengths fall by step_db from wire `best` on, chances go to the first two. */
static void rank_wires(struct thrum_snapshot *snapshot, int n, int best, double top_dbfs, double step_db,
                       double first, double second)
{
    struct thrum_pick *pick = &snapshot->pick[0];
    snapshot->n_readings = n;
    for (int i = 0; i < n; i++) {
        int wire = (best + i) % n;
        double dbfs = top_dbfs - step_db * i;
        struct thrum_reading *reading = &snapshot->readings[wire];
        snprintf(reading->wire, sizeof reading->wire, "%d", wire + 1);
        reading->touch = 1;
        pick->rank[i] = (struct thrum_wire_rank){.wire = wire,
                                                 .touches = i == 0 ? 2 : 1,
                                                 .heard = dbfs > -90.0,
                                                 .dbfs = dbfs,
                                                 .low_db = dbfs - 1.1,
                                                 .high_db = dbfs > -90.0 ? dbfs + 1.0 : -84.2,
                                                 .chance = i == 0   ? first
                                                           : i == 1 ? second
                                                                    : 1e-5};
    }
    for (int i = n; i < WIRES; i++)
        pick->rank[i] = (struct thrum_wire_rank){.wire = i, .dbfs = THRUM_FLOOR_DBFS};
    pick->wire = best;
    pick->chance = first;
    pick->lead_db = step_db;
    pick->n_contenders = 2;
    pick->contenders[0] = best;
    pick->contenders[1] = (best + 1) % n;
    pick->next_touch = (best + 1) % n;
}

static void picked(struct thrum_snapshot *snapshot)
{
    hear_beeps(snapshot, -66.4, -43.1);
    touch(snapshot, 19, 0.8, -66.4, 2.2);
    rank_wires(snapshot, 19, 6, -43.2, 3.1, 0.9962, 0.0037);
    snapshot->pick[0].outcome = THRUM_PICKED;
    snapshot->pick[0].notes = THRUM_NOTE_UNTOUCHED;
}

static void no_winner(struct thrum_snapshot *snapshot, enum thrum_outcome outcome)
{
    rank_wires(snapshot, WIRES, 0, outcome == THRUM_NO_TONE ? -99.0 : -51.0, 0.05, 0.04, 0.04);
    snapshot->pick[0].outcome = outcome;
    snapshot->pick[0].wire = -1;
    snapshot->pick[0].next_touch = -1;
    snapshot->pick[0].notes = outcome == THRUM_NO_TONE ? THRUM_NOTE_CHECK_SENDER : THRUM_NOTE_LIFT_COMMON;
}

static void two_senders(struct thrum_snapshot *snapshot)
{
    picked(snapshot);
    snapshot->n_senders = 2;
    snapshot->sender[1] = thrum_voice_beep(1320.0, 0.25, 0.25);
    snprintf(snapshot->sender[1].name, sizeof snapshot->sender[1].name, "b");
    snapshot->pick[1] = snapshot->pick[0];
    snapshot->pick[1].outcome = THRUM_TOO_CLOSE;
}

static void one_wire(struct thrum_snapshot *snapshot)
{
    two_senders(snapshot);
    for (int s = 0; s < 2; s++) {
        snapshot->pick[s].outcome = THRUM_TOO_CLOSE;
        snapshot->pick[s].notes |= THRUM_NOTE_ONE_WIRE;
    }
}

static void halves(struct thrum_snapshot *snapshot)
{
    hear_beeps(snapshot, -46.8, -43.1);
    rank_wires(snapshot, 7, 6, -43.2, 3.1, 0.71, 0.21);
    touch(snapshot, 7, 0.8, -46.8, 2.4);
    snapshot->n_readings = 1;
    snapshot->halves = snapshot->group = true;
    snapshot->pick[0].n_contenders = 12;
    snprintf(snapshot->current, sizeof snapshot->current, "3-14");
}

static void nonsense(struct thrum_snapshot *snapshot, struct thrum_screen_facts *facts)
{
    picked(snapshot);
    struct thrum_now *now = &snapshot->now;
    now->bar_dbfs[0] = now->steady_dbfs[0] = now->best_dbfs[0] = (double)NAN;
    now->hum_dbfs = now->mains_hz = now->hum_removed_db = (double)INFINITY;
    now->faults = UINT32_MAX;
    snapshot->rate_hz = (double)NAN;
    snapshot->touch.first = UINT64_MAX;
    snapshot->so_far.strength[0].low_db = -(double)INFINITY;
    snapshot->hold_s = (double)NAN;
    snapshot->hold = (enum thrum_hold)77;
    snapshot->so_far.strength[0].dbfs = snapshot->so_far.strength[0].high_db = (double)NAN;
    struct thrum_pick *pick = &snapshot->pick[0];
    pick->wire = pick->next_touch = 10000;
    pick->n_contenders = pick->n_ranked = 10000;
    pick->chance = pick->lead_db = (double)NAN;
    for (int i = 0; i < THRUM_MAX_WIRES; i++) {
        pick->rank[i] = (struct thrum_wire_rank){.wire = i * 1000 - 7,
                                                 .touches = 1 << 30,
                                                 .heard = i % 2,
                                                 .dbfs = (double)NAN,
                                                 .low_db = -1e300,
                                                 .high_db = 1e300};
        pick->rank[i].chance = (double)NAN;
        pick->contenders[i] = -i;
    }
    memset(snapshot->wire[0], 'W', sizeof snapshot->wire[0] - 1);
    snprintf(snapshot->current, sizeof snapshot->current, "\x1b[31m\xff\xfe\n");
    facts->recorded_s = facts->length_s = (double)NAN;
    facts->lost_frames = UINT64_MAX;
}

static void set_heard(struct thrum_snapshot *snapshot, enum thrum_heard heard, uint32_t faults)
{
    snapshot->now.heard = heard;
    snapshot->now.faults = faults;
}

static void message(struct thrum_screen_facts *facts, const char *text)
{
    snprintf(facts->message, sizeof facts->message, "%s", text);
}

static void make_round(enum scene_name name, struct thrum_snapshot *snapshot,
                       struct thrum_screen_facts *facts)
{
    switch (name) {
    case SCENE_HOLD:
        hear_beeps(snapshot, -46.8, -43.1);
        rank_wires(snapshot, 7, 6, -43.2, 3.1, 0.71, 0.21);
        touch(snapshot, 7, 0.8, -46.8, 2.4);
        break;
    case SCENE_ENOUGH:
        hear_beeps(snapshot, -46.8, -43.1);
        rank_wires(snapshot, 7, 6, -43.2, 3.1, 0.71, 0.21);
        hold_enough(snapshot, THRUM_HOLD_NARROW);
        break;
    case SCENE_WEAKER:
        rank_wires(snapshot, 7, 6, -43.2, 3.1, 0.71, 0.21);
        hold_enough(snapshot, THRUM_HOLD_WEAKER);
        snapshot->so_far.strength[0].heard = false;
        break;
    case SCENE_HOPELESS:
        rank_wires(snapshot, 7, 6, -43.2, 3.1, 0.71, 0.21);
        hold_enough(snapshot, THRUM_HOLD_HOPELESS);
        break;
    case SCENE_TAKEN:
        hear_beeps(snapshot, -46.8, -43.1);
        rank_wires(snapshot, 8, 6, -43.2, 3.1, 0.71, 0.21);
        hold_enough(snapshot, THRUM_HOLD_NARROW);
        snapshot->taken = true;
        snprintf(snapshot->current, sizeof snapshot->current, "9");
        facts->hands_free = true;
        break;
    case SCENE_PICKED:
    case SCENE_FINISHED:
        picked(snapshot);
        break;
    case SCENE_CHECK_TAG:
        picked(snapshot);
        snapshot->readings[6].faults = THRUM_FAULT_COUNT;
        break;
    case SCENE_UNTRUSTED:
        picked(snapshot);
        snapshot->readings[3].faults = THRUM_FAULT_GAIN_RIDING;
        snapshot->pick[0].notes |= THRUM_NOTE_UNTRUSTED;
        break;
    case SCENE_CLOSE:
        hear_beeps(snapshot, -45.0, -43.1);
        rank_wires(snapshot, WIRES, 6, -43.2, 0.9, 0.621, 0.372);
        break;
    case SCENE_NO_TONE:
        no_winner(snapshot, THRUM_NO_TONE);
        break;
    case SCENE_EVERYWHERE:
        hear_beeps(snapshot, -51.0, -50.9);
        no_winner(snapshot, THRUM_EVERYWHERE);
        break;
    case SCENE_TWO_SENDERS:
        two_senders(snapshot);
        break;
    case SCENE_ONE_WIRE:
        one_wire(snapshot);
        break;
    case SCENE_HALVES:
        halves(snapshot);
        break;
    case SCENE_NONSENSE:
        nonsense(snapshot, facts);
        break;
    default:
        break;
    }
}

static void make_input(enum scene_name name, struct thrum_snapshot *snapshot,
                       struct thrum_screen_facts *facts)
{
    switch (name) {
    case SCENE_SILENCE:
        set_heard(snapshot, THRUM_HEARD_SILENCE, THRUM_FAULT_SILENT);
        break;
    case SCENE_TOO_LOW:
        set_heard(snapshot, THRUM_HEARD_TOO_LOW, THRUM_FAULT_LOW);
        break;
    case SCENE_OTHER_CADENCE:
        set_heard(snapshot, THRUM_HEARD_OTHER_CADENCE, THRUM_FAULT_OTHER_CADENCE);
        break;
    case SCENE_OVERLOAD:
        set_heard(snapshot, THRUM_HEARD_OVERLOAD, THRUM_FAULT_CLIPPED | THRUM_FAULT_GAIN_RIDING);
        break;
    case SCENE_WAIT:
        set_heard(snapshot, THRUM_HEARD_NOTHING_YET, 0);
        facts->input_state = THRUM_INPUT_WAIT;
        break;
    case SCENE_LOST:
        picked(snapshot);
        facts->input_state = THRUM_INPUT_LOST;
        message(facts, "INPUT LOST - plug it in again; the round and the recording are kept");
        break;
    case SCENE_ENDED:
        picked(snapshot);
        facts->input_state = THRUM_INPUT_ENDED;
        break;
    case SCENE_FINISHED:
        snapshot->touching = false;
        snapshot->finished = true;
        break;
    case SCENE_RECORDING_FAILED:
        facts->record = THRUM_RECORD_FAILED;
        message(facts, "DISK FULL - recording stopped, what was written is kept");
        break;
    default:
        break;
    }
}

void scene_make(enum scene_name name, struct thrum_snapshot *snapshot, struct thrum_screen_facts *facts)
{
    memset(snapshot, 0, sizeof *snapshot);
    memset(facts, 0, sizeof *facts);
    snprintf(facts->input, sizeof facts->input, "Hollin Fern House, USB probe");
    facts->live = true;
    facts->record = THRUM_RECORD_ON;
    facts->recorded_s = 74.6;
    facts->n_log = 2;
    snprintf(facts->log[0], sizeof facts->log[0], "input opened: 48000 Hz, 1 channel");
    snprintf(facts->log[1], sizeof facts->log[1], "voice learned: 1037.0 Hz, 0.25 s on, 0.25 s off");
    lay_wires(snapshot);
    hear_hum(snapshot);
    make_round(name, snapshot, facts);
    make_input(name, snapshot, facts);
}
