/* Hands free: a touch is taken while the probe rests, as soon as it is enough, and becomes one reading; one key overrules,
 * mends, takes back. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "round/ahead.h"
#include "same.h"
#include "thrum/practice.h"
#include "thrum/round.h"

#define RATE 8000

struct scene {
    struct thrum_practice *practice;
    struct thrum_round *round, *late; /* late: the same sound, touches taken when they have ended */
    struct thrum_snapshot seen;
};

static struct thrum_round *made(const struct thrum_practice_config *practice, bool watched)
{
    static struct thrum_round_config config;
    struct thrum_round *round;
    memset(&config, 0, sizeof config);
    config.pick = thrum_pick_config_default();
    config.hands_free = true;
    config.take_when_enough = watched;
    config.listener = (struct thrum_listener_config){
        .rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .bar = watched};
    config.listener.voice[0] = practice->voice;
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    return round;
}

static int set_up(void **state)
{
    struct scene *scene = calloc(1, sizeof *scene);
    struct thrum_practice_config config = thrum_practice_config_default(4711);
    assert_non_null(scene);
    config.rate_hz = RATE;
    config.n_wires = 8;
    assert_int_equal(thrum_practice_create(&config, &scene->practice), THRUM_OK);
    scene->round = made(&config, true);
    scene->late = made(&config, false);
    *state = scene;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *scene = *state;
    thrum_round_destroy(scene->round);
    thrum_round_destroy(scene->late);
    thrum_practice_destroy(scene->practice);
    free(scene);
    return 0;
}

static const struct thrum_snapshot *rest(struct scene *scene, int wire, double seconds)
{
    static float x[RATE * 30];
    size_t n = (size_t)(seconds * RATE);
    thrum_practice_place(scene->practice, wire);
    thrum_practice_read(scene->practice, x, n);
    thrum_round_feed(scene->round, x, n);
    thrum_round_feed(scene->late, x, n);
    thrum_round_snapshot(scene->round, &scene->seen);
    return &scene->seen;
}

static const struct thrum_snapshot *lift(struct scene *scene)
{
    return rest(scene, THRUM_PROBE_IN_AIR, 1.0);
}

static void act(struct scene *scene, enum thrum_action action)
{
    assert_int_equal(thrum_round_act(scene->round, action, NULL), THRUM_OK);
    thrum_round_snapshot(scene->round, &scene->seen);
}

/* "1 2 3" */
static void expect_tags(const struct scene *scene, const char *tags)
{
    char text[512] = "";
    for (int i = 0; i < scene->seen.n_readings; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%s%s", i ? " " : "",
                 scene->seen.readings[i].wire);
    assert_string_equal(text, tags);
}

static void a_touch_is_taken_while_the_probe_rests_and_completed_when_it_is_lifted(void **state)
{
    struct scene *scene = *state;
    lift(scene);
    assert_int_equal(rest(scene, 0, 1.0)->n_readings, 0);
    const struct thrum_snapshot *s = rest(scene, 0, 4.0);
    assert_true(s->taken && s->touching && s->enough);
    assert_string_equal(s->current, "2");
    expect_tags(scene, "1");
    assert_int_equal(s->n_complete, 0);
    double taken_s = (double)s->readings[0].frames / RATE;
    assert_between(taken_s, 1.5, 4.6);
    s = lift(scene);
    assert_false(s->taken);
    assert_int_equal(s->n_complete, 1);
    expect_tags(scene, "1");
    assert_between((double)s->readings[0].frames / RATE, 4.7, 5.0); /* all of it */
    s = rest(scene, 1, 5.0);
    assert_true(s->taken);
    expect_tags(scene, "1 2");
}

static void readings_in_the_end_are_those_of_the_finder(void **state)
{
    struct scene *scene = *state;
    static struct thrum_snapshot late;
    lift(scene);
    for (int wire = 0; wire < 8; wire++) {
        rest(scene, wire, 1.2 + 0.6 * wire);
        lift(scene);
    }
    thrum_round_end(scene->round);
    thrum_round_end(scene->late);
    thrum_round_snapshot(scene->round, &scene->seen);
    thrum_round_snapshot(scene->late, &late);
    expect_tags(scene, "1 2 3 4 5 6 7 8");
    assert_int_equal(late.n_readings, 8);
    for (int i = 0; i < 8; i++)
        expect_same_reading(&late.readings[i], &scene->seen.readings[i]);
}

static void a_key_takes_at_once_and_does_not_take_twice(void **state)
{
    struct scene *scene = *state;
    lift(scene);
    rest(scene, 0, 1.0);
    act(scene, THRUM_TAKE);
    assert_true(scene->seen.taken);
    expect_tags(scene, "1");
    act(scene, THRUM_TAKE);
    expect_tags(scene, "1");
    rest(scene, 0, 4.0);
    lift(scene);
    expect_tags(scene, "1");
}

static void what_was_taken_back_does_not_return(void **state)
{
    struct scene *scene = *state;
    lift(scene);
    rest(scene, 0, 5.0);
    expect_tags(scene, "1");
    act(scene, THRUM_UNDO);
    assert_string_equal(scene->seen.current, "1");
    rest(scene, 0, 4.0);
    lift(scene);
    expect_tags(scene, "");
    rest(scene, 1, 5.0);
    lift(scene);
    expect_tags(scene, "1");
}

static void a_touch_marked_by_keys_is_not_found_once_more(void **state)
{
    struct scene *scene = *state;
    act(scene, THRUM_TAKE); /* before the hum has told anything */
    lift(scene);
    rest(scene, 0, 3.0);
    act(scene, THRUM_TAKE);
    lift(scene);
    expect_tags(scene, "1");
    rest(scene, 1, 5.0);
    lift(scene);
    expect_tags(scene, "1 2");
}

static void a_slipped_probe_costs_no_tag(void **state)
{
    struct scene *scene = *state;
    lift(scene);
    rest(scene, 0, 5.0);
    lift(scene);
    rest(scene, 1, 1.0);
    rest(scene, THRUM_PROBE_IN_AIR, 0.25);
    rest(scene, 1, 5.0);
    lift(scene);
    expect_tags(scene, "1 2 2");
    assert_int_equal(scene->seen.readings[2].touch, 2);
    assert_string_equal(scene->seen.current, "3");
}

/* A slip by so many seconds, and the probe is back for a second. */
static void slip(struct scene *scene, double seconds)
{
    lift(scene);
    rest(scene, 0, 5.0);
    lift(scene);
    rest(scene, 1, 1.0);
    rest(scene, THRUM_PROBE_IN_AIR, seconds);
    rest(scene, 1, 1.0);
}

static void after_a_slip_the_wire_before_is_shown_and_a_key_says_otherwise(void **state)
{
    struct scene *scene = *state;
    slip(scene, 0.2);
    assert_true(scene->seen.touching && !scene->seen.taken && !scene->seen.may_be_again);
    assert_string_equal(scene->seen.current, "2");
    act(scene, THRUM_NEXT);
    rest(scene, 1, 4.0);
    lift(scene);
    expect_tags(scene, "1 2 3");
}

/* The hand lifts the probe, which touches the same wire once more: no touch of the next one. */
static void a_probe_that_bounces_when_it_is_lifted_costs_no_tag(void **state)
{
    static const double back_s[] = {0.25, 0.45, 0.6, 1.0};
    struct scene *scene = *state;
    lift(scene);
    for (int i = 0; i < 4; i++) {
        char tag[2] = {(char)('1' + i), 0}, next[2] = {(char)('2' + i), 0};
        rest(scene, i, 5.0);
        assert_string_equal(scene->seen.current, next);
        rest(scene, THRUM_PROBE_IN_AIR, 0.2);
        rest(scene, i, back_s[i]);
        lift(scene);
        assert_string_equal(scene->seen.current, next);
        assert_string_equal(scene->seen.readings[scene->seen.n_readings - 1].wire, tag);
    }
    expect_tags(scene, "1 2 2 3 3 4 4");
    rest(scene, 4, 1.0);
    assert_false(scene->seen.may_be_again); /* the touch before was enough */
    /* a next wire is no bounce */
    rest(scene, 4, 4.0);
    rest(scene, THRUM_PROBE_IN_AIR, 0.4);
    rest(scene, 5, 1.0);
    lift(scene);
    expect_tags(scene, "1 2 2 3 3 4 4 5 6");
}

/* As long as a move to the next wire: nobody but the hand knows which it was. */
static void a_longer_slip_is_mended_by_one_key(void **state)
{
    static const enum thrum_action keys[] = {THRUM_REPEAT, THRUM_TAG_LOWER, THRUM_PREVIOUS};
    struct scene *scene = *state;
    slip(scene, 0.5);
    assert_true(scene->seen.touching && !scene->seen.taken && scene->seen.may_be_again);
    expect_tags(scene, "1 2");
    for (int i = 0; i < 3; i++) {
        act(scene, keys[i]);
        expect_tags(scene, "1 2");
        assert_string_equal(scene->seen.current, "2");
        assert_false(scene->seen.may_be_again);
        act(scene, i % 2 ? THRUM_TAG_HIGHER : THRUM_NEXT);
        assert_string_equal(scene->seen.current, "3");
        expect_tags(scene, "1 2");
    }
    act(scene, THRUM_TAG_LOWER);
    rest(scene, 1, 4.0);
    lift(scene);
    expect_tags(scene, "1 2 2");
    assert_string_equal(scene->seen.current, "3");
    assert_false(scene->seen.may_be_again);
    rest(scene, 2, 5.0);
    assert_false(scene->seen.may_be_again);
    expect_tags(scene, "1 2 2 3");
}

static void a_longer_slip_is_mended_after_it_was_taken(void **state)
{
    struct scene *scene = *state;
    slip(scene, 0.5);
    rest(scene, 1, 4.0);
    assert_true(scene->seen.taken);
    expect_tags(scene, "1 2 3");
    act(scene, THRUM_TAG_LOWER);
    expect_tags(scene, "1 2 2");
    lift(scene);
    rest(scene, 2, 5.0);
    expect_tags(scene, "1 2 2 3");
}

/* While the probe rests on the next wire already, older touches are mended by their tag. */
static void a_typed_tag_is_mended_during_a_touch(void **state)
{
    struct scene *scene = *state;
    static const int wires[] = {0, 1, 1};
    lift(scene);
    for (int i = 0; i < 3; i++) {
        rest(scene, wires[i], 5.0);
        lift(scene);
    }
    rest(scene, 2, 1.0);
    expect_tags(scene, "1 2 3");
    assert_string_equal(scene->seen.current, "4");
    assert_int_equal(thrum_round_act(scene->round, THRUM_GO_TO, "3"), THRUM_OK);
    act(scene, THRUM_TAG_LOWER);
    expect_tags(scene, "1 2 2");
    assert_string_equal(scene->seen.current, "3");
    rest(scene, 2, 4.0);
    expect_tags(scene, "1 2 2 3");
}

/* Wire 2 touched twice without noticing, then 3: the third and fourth touch belong one tag lower. */
static void a_wire_touched_twice_is_mended(void **state)
{
    struct scene *scene = *state;
    static const int wires[] = {0, 1, 1, 2};
    lift(scene);
    for (int i = 0; i < 4; i++) {
        rest(scene, wires[i], 4.5);
        lift(scene);
    }
    expect_tags(scene, "1 2 3 4");
    double before = scene->seen.readings[3].strength[0].dbfs;
    assert_int_equal(thrum_round_act(scene->round, THRUM_GO_TO, "3"), THRUM_OK);
    act(scene, THRUM_TAG_LOWER);
    expect_tags(scene, "1 2 2 3");
    assert_string_equal(scene->seen.current, "4");
    assert_int_equal(scene->seen.readings[2].touch, 2);
    assert_int_equal(scene->seen.readings[3].touch, 1);
    assert_int_equal(scene->seen.n_wires, 3);
    assert_close(scene->seen.readings[3].strength[0].dbfs, before, 0.0);
    act(scene, THRUM_TAG_LOWER); /* one key, right after: only the last touch */
    expect_tags(scene, "1 2 2 2");
    assert_string_equal(scene->seen.current, "3");
    act(scene, THRUM_TAG_HIGHER);
    expect_tags(scene, "1 2 2 3");
    act(scene, THRUM_TAG_HIGHER); /* skipped one */
    expect_tags(scene, "1 2 2 4");
    assert_string_equal(scene->seen.current, "5");
    assert_int_equal(thrum_round_act(scene->round, THRUM_GO_TO, "1"), THRUM_OK);
    assert_int_equal(thrum_round_act(scene->round, THRUM_TAG_LOWER, NULL), THRUM_ERR_NOT_FOUND);
    thrum_round_snapshot(scene->round, &scene->seen);
    expect_tags(scene, "1 2 2 4"); /* all or nothing */
}

static void found_touches_are_matched_by_where_they_lie(void **state)
{
    (void)state;
    struct ahead ahead = {0};
    ahead_add(&ahead, (struct thrum_span){100, 200}, 7);
    ahead_add(&ahead, (struct thrum_span){300, 400}, AHEAD_DONE);
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){0, 100}), AHEAD_NEW);
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){90, 260}), 7);
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){300, 350}), AHEAD_DONE);
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){350, 420}), AHEAD_DONE); /* cut in two */
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){420, 500}), AHEAD_NEW);
    for (int i = 0; i < 100; i++)
        ahead_add(&ahead, (struct thrum_span){(uint64_t)(1000 + i), (uint64_t)(1001 + i)}, i);
    ahead_drop(&ahead, 99);
    assert_int_equal(ahead_found(&ahead, (struct thrum_span){1099, 1100}), AHEAD_DONE);
}

#define IN_SCENE(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        IN_SCENE(a_touch_is_taken_while_the_probe_rests_and_completed_when_it_is_lifted),
        IN_SCENE(readings_in_the_end_are_those_of_the_finder),
        IN_SCENE(a_key_takes_at_once_and_does_not_take_twice),
        IN_SCENE(what_was_taken_back_does_not_return),
        IN_SCENE(a_touch_marked_by_keys_is_not_found_once_more),
        IN_SCENE(a_slipped_probe_costs_no_tag),
        IN_SCENE(after_a_slip_the_wire_before_is_shown_and_a_key_says_otherwise),
        IN_SCENE(a_probe_that_bounces_when_it_is_lifted_costs_no_tag),
        IN_SCENE(a_longer_slip_is_mended_by_one_key),
        IN_SCENE(a_longer_slip_is_mended_after_it_was_taken),
        IN_SCENE(a_typed_tag_is_mended_during_a_touch),
        IN_SCENE(a_wire_touched_twice_is_mended),
        cmocka_unit_test(found_touches_are_matched_by_where_they_lie),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
