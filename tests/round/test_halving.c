/* A round that searches by halves: readings added under tags of groups, the tag that comes next, undo. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "round/tags.h"
#include "signals.h"
#include "thrum/round.h"

static struct thrum_round *made(bool halves, int n_wires)
{
    struct thrum_round_config *config = calloc(1, sizeof *config);
    struct thrum_round *round;
    assert_non_null(config);
    config->listener.rate_hz = 8000.0;
    config->listener.channels = 1;
    config->listener.channel = -1;
    config->listener.n_voices = 1;
    config->listener.voice[0] = thrum_voice_beep(1000.0, 0.25, 0.25);
    config->pick = thrum_pick_config_default();
    config->halves = halves;
    assert_int_equal(thrum_round_create(config, &round), THRUM_OK);
    for (int i = 1; i <= n_wires; i++) {
        char tag[THRUM_WIRE_TAG_SIZE];
        snprintf(tag, sizeof tag, "%d", i);
        assert_int_equal(thrum_round_exclude(round, tag, false), THRUM_OK);
    }
    free(config);
    return round;
}

static void add(struct thrum_round *round, const char *tag, double dbfs)
{
    struct thrum_reading reading = {.rate_hz = 8000.0, .frames = 16000, .n_senders = 1};
    snprintf(reading.wire, sizeof reading.wire, "%s", tag);
    reading.strength[0] =
        (struct thrum_strength){.heard = true, .dbfs = dbfs, .sd_db = 0.2, .high_db = dbfs + 0.4};
    assert_int_equal(thrum_round_add(round, &reading), THRUM_OK);
}

static struct thrum_snapshot *seen(struct thrum_round *round)
{
    struct thrum_snapshot *s = malloc(sizeof *s);
    assert_non_null(s);
    thrum_round_snapshot(round, s);
    return s;
}

static void expect(struct thrum_round *round, int n_wires, int n_readings, int next_touch, int next_last)
{
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(s->n_wires, n_wires);
    assert_int_equal(s->n_readings, n_readings);
    assert_int_equal(s->pick[0].next_touch, next_touch);
    assert_int_equal(s->pick[0].next_last, next_last);
    free(s);
}

static void it_begins_with_the_first_half(void **state)
{
    (void)state;
    struct thrum_round *round = made(true, 24);
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, "1-12");
    assert_true(s->halves && s->group);
    free(s);
    thrum_round_destroy(round);
}

static void touches_of_groups_are_no_wires_and_lead_to_one(void **state)
{
    (void)state;
    struct thrum_round *round = made(true, 24);
    add(round, "1-12", -70.0);
    expect(round, 24, 1, 12, 23);
    add(round, "13-24", -40.0);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(s->pick[0].outcome, THRUM_TOO_CLOSE);
    assert_true(s->pick[0].rank[0].wire >= 12);
    assert_int_equal(s->pick[0].rank[0].touches, 0);
    free(s);
    thrum_round_destroy(round);
}

static void undo_takes_a_group_back(void **state)
{
    (void)state;
    struct thrum_round *round = made(true, 24);
    add(round, "1-12", -70.0);
    add(round, "13-24", -40.0);
    assert_int_equal(thrum_round_act(round, THRUM_UNDO, NULL), THRUM_OK);
    expect(round, 24, 1, 12, 23);
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, "13-24");
    free(s);
    assert_int_equal(thrum_round_act(round, THRUM_UNDO, NULL), THRUM_OK);
    expect(round, 24, 0, 0, 11);
    thrum_round_destroy(round);
}

static void keys_move_off_a_group_and_refuse_what_it_cannot_do(void **state)
{
    (void)state;
    struct thrum_round *round = made(true, 24);
    assert_int_equal(thrum_round_act(round, THRUM_EXCLUDE, NULL), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, "20-30"), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, "3-9"), THRUM_OK);
    assert_int_equal(thrum_round_act(round, THRUM_NEXT, NULL), THRUM_OK);
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, "10");
    assert_false(s->group);
    free(s);
    thrum_round_act(round, THRUM_GO_TO, "3-9");
    thrum_round_act(round, THRUM_PREVIOUS, NULL);
    s = seen(round);
    assert_string_equal(s->current, "2");
    free(s);
    add(round, "1-12", -40.0);
    assert_int_equal(thrum_round_act(round, THRUM_TAG_HIGHER, NULL), THRUM_ERR_NOT_FOUND);
    thrum_round_destroy(round);
}

/* Excluded ones are in no half, it is said where some lie in between, and a round whose wires are named goes to no other. */
static void excluded_wires_are_not_held_and_no_tag_follows_the_last(void **state)
{
    (void)state;
    struct thrum_round *round = made(true, 13);
    static const char *const out[] = {"1", "2", "5"};
    for (int i = 0; i < 3; i++)
        assert_int_equal(thrum_round_exclude(round, out[i], true), THRUM_OK);
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, "3-8");
    assert_true(s->group_left_out);
    free(s);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, "6-8"), THRUM_OK);
    s = seen(round);
    assert_false(s->group_left_out);
    free(s);
    static const char *const rest[] = {"3", "4", "6", "7", "8", "9", "10", "11", "12", "13"};
    static float noise[16000];
    struct rng rng = rng_seeded(12);
    for (int i = 0; i < 16000; i++)
        noise[i] = (float)(1e-3 * rng_normal(&rng));
    for (int i = 0; i < 10; i++) {
        thrum_round_act(round, THRUM_GO_TO, rest[i]);
        thrum_round_act(round, THRUM_TAKE, NULL);
        thrum_round_feed(round, noise, 16000);
        assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
    }
    s = seen(round);
    assert_int_equal(s->pick[0].outcome, THRUM_NO_TONE);
    assert_string_equal(s->current, "13");
    assert_int_equal(s->n_wires, 13);
    free(s);
    thrum_round_destroy(round);
}

/* Where halves are not searched, "1-12" is the name of a wire. */
static void without_halves_a_dash_is_part_of_a_name(void **state)
{
    (void)state;
    struct thrum_round *round = made(false, 24);
    add(round, "1-12", -40.0);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(s->n_wires, 25);
    assert_false(s->halves || s->group);
    free(s);
    thrum_round_destroy(round);
}

static void ranges_are_two_numbers_the_first_below_the_second(void **state)
{
    (void)state;
    static const char *const none[] = {"",    "-",   "3",   "3-",    "-3",  "3-3",
                                       "9-3", "a-3", "3-b", "1-2-3", "0-4", "123456789-2"};
    char first[THRUM_WIRE_TAG_SIZE], last[THRUM_WIRE_TAG_SIZE], tag[THRUM_WIRE_TAG_SIZE];
    for (size_t i = 0; i < sizeof none / sizeof *none; i++)
        assert_false(thrum_tag_range(none[i], first, last));
    assert_true(thrum_tag_range("9-12", first, last));
    assert_string_equal(first, "9");
    assert_string_equal(last, "12");
    thrum_tag_join(first, last, tag);
    assert_string_equal(tag, "9-12");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_begins_with_the_first_half),
        cmocka_unit_test(touches_of_groups_are_no_wires_and_lead_to_one),
        cmocka_unit_test(undo_takes_a_group_back),
        cmocka_unit_test(keys_move_off_a_group_and_refuse_what_it_cannot_do),
        cmocka_unit_test(excluded_wires_are_not_held_and_no_tag_follows_the_last),
        cmocka_unit_test(without_halves_a_dash_is_part_of_a_name),
        cmocka_unit_test(ranges_are_two_numbers_the_first_below_the_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
