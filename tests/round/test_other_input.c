/* Another input in the middle of a round: strengths measured with different gains are never compared. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/round.h"

enum { WIRES = 6 };

static struct thrum_round *make(bool halves)
{
    struct thrum_round *round;
    struct thrum_round_config config = {.pick = thrum_pick_config_default(), .halves = halves};
    config.listener.rate_hz = 48000.0;
    config.listener.channels = 1;
    config.listener.channel = -1;
    config.listener.n_voices = 1;
    config.listener.voice[0] = thrum_voice_beep(1037.0, 0.25, 0.25);
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    return round;
}

static void touch(struct thrum_round *round, const char *tag, double dbfs)
{
    struct thrum_reading reading = {.n_senders = 1, .rate_hz = 48000.0, .frames = 144000};
    snprintf(reading.wire, sizeof reading.wire, "%s", tag);
    reading.strength[0] = (struct thrum_strength){.heard = true,
                                                  .dbfs = dbfs,
                                                  .low_db = dbfs - 0.3,
                                                  .high_db = dbfs + 0.3,
                                                  .sd_db = 0.15,
                                                  .score = -20.0};
    assert_int_equal(thrum_round_add(round, &reading), THRUM_OK);
}

/* Wires 1 to 6; the second is 15 dB up. */
static void touch_all(struct thrum_round *round, double gain_db)
{
    for (int i = 1; i <= WIRES; i++) {
        char tag[8];
        snprintf(tag, sizeof tag, "%d", i);
        touch(round, tag, (i == 2 ? -40.0 : -55.0 - i) + gain_db);
    }
}

static struct thrum_snapshot *seen(struct thrum_round *round)
{
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    assert_non_null(snapshot);
    thrum_round_snapshot(round, snapshot);
    return snapshot;
}

static void what_was_measured_before_is_kept_and_counts_no_more(void **state)
{
    (void)state;
    int n_wires;
    struct thrum_round *round = make(false);
    touch_all(round, 0.0);
    struct thrum_snapshot *before = seen(round);
    assert_int_equal(before->pick[0].outcome, THRUM_PICKED);
    assert_close(before->now.best_dbfs[0], -40.0, 1e-9);
    thrum_round_other_input(round);
    struct thrum_snapshot *after = seen(round);
    assert_int_equal(after->n_readings, WIRES);
    assert_int_equal(after->n_wires, WIRES);
    assert_int_equal(after->pick[0].outcome, THRUM_TOO_CLOSE);
    assert_close(after->now.best_dbfs[0], THRUM_FLOOR_DBFS, 1e-9); /* no mark on the bar from another input */
    assert_int_equal(thrum_snapshot_untouched(after, 0, &n_wires), WIRES);
    for (int i = 0; i < WIRES; i++)
        assert_true(after->readings[i].faults & THRUM_FAULT_NOT_COMPARED);
    free(before);
    free(after);
    thrum_round_destroy(round);
}

/* 30 dB more gain: the weakest wire is then louder than the driven one was. */
static void a_louder_input_names_no_other_wire(void **state)
{
    (void)state;
    struct thrum_round *round = make(false);
    touch_all(round, 0.0);
    thrum_round_other_input(round);
    for (int i = 1; i <= WIRES; i++) {
        char tag[8];
        snprintf(tag, sizeof tag, "%d", i);
        struct thrum_snapshot *snapshot = seen(round);
        assert_int_not_equal(snapshot->pick[0].outcome, THRUM_PICKED); /* wires are left */
        free(snapshot);
        touch(round, tag, (i == 2 ? -10.0 : -25.0 - i));
    }
    struct thrum_snapshot *snapshot = seen(round);
    assert_int_equal(snapshot->pick[0].outcome, THRUM_PICKED);
    assert_string_equal(snapshot->wire[snapshot->pick[0].wire], "2");
    free(snapshot);
    thrum_round_destroy(round);
}

static void groups_count_no_more_either(void **state)
{
    (void)state;
    struct thrum_round *round = make(true);
    for (int i = 1; i <= WIRES; i++) {
        char tag[8];
        snprintf(tag, sizeof tag, "%d", i);
        assert_int_equal(thrum_round_exclude(round, tag, false), THRUM_OK);
    }
    struct thrum_snapshot *fresh = seen(round);
    touch(round, "1-3", -40.0);
    struct thrum_snapshot *told = seen(round);
    thrum_round_other_input(round);
    struct thrum_snapshot *after = seen(round);
    assert_true(fabs(told->pick[0].rank[0].chance - fresh->pick[0].rank[0].chance) > 0.01);
    for (int i = 0; i < WIRES; i++)
        assert_close(after->pick[0].rank[i].chance, fresh->pick[0].rank[i].chance, 1e-9);
    free(fresh);
    free(told);
    free(after);
    thrum_round_destroy(round);
}

static void a_touch_in_progress_is_dropped(void **state)
{
    (void)state;
    static const float samples[48000];
    struct thrum_round *round = make(false);
    assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
    thrum_round_feed(round, samples, 48000);
    thrum_round_lost(round, 48000);
    thrum_round_other_input(round);
    struct thrum_snapshot *snapshot = seen(round);
    assert_false(snapshot->touching);
    assert_int_equal(snapshot->n_readings, 0);
    assert_string_equal(snapshot->current, "1");
    free(snapshot);
    thrum_round_destroy(round);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_measured_before_is_kept_and_counts_no_more),
        cmocka_unit_test(a_louder_input_names_no_other_wire),
        cmocka_unit_test(groups_count_no_more_either),
        cmocka_unit_test(a_touch_in_progress_is_dropped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
