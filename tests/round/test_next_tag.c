/* The tag that a touch gets: in order, then the wire that the advice names; by keys and with hands free. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/practice.h"
#include "thrum/round.h"

enum { RATE = 8000, WIRES = 5 };

struct scene {
    struct thrum_practice *practice;
    struct thrum_practice_config config;
    struct thrum_round *round;
    bool hands_free;
    struct thrum_snapshot seen;
};

struct how {
    bool hands_free, watched, named, tied;
    int n_wires;
};

static void begin(struct scene *scene, uint64_t seed, struct how how)
{
    static struct thrum_round_config config;
    memset(&config, 0, sizeof config);
    scene->config = thrum_practice_config_default(seed);
    scene->config.rate_hz = RATE;
    scene->config.n_wires = WIRES;
    scene->config.ending = how.tied ? THRUM_ENDING_TIED : THRUM_ENDING_FREE;
    scene->hands_free = how.hands_free;
    assert_int_equal(thrum_practice_create(&scene->config, &scene->practice), THRUM_OK);
    config.pick = thrum_pick_config_default();
    config.hands_free = how.hands_free;
    config.take_when_enough = how.watched;
    config.n_wires = how.n_wires;
    config.listener = (struct thrum_listener_config){
        .rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .bar = how.watched};
    config.listener.voice[0] = scene->config.voice;
    assert_int_equal(thrum_round_create(&config, &scene->round), THRUM_OK);
    for (int i = 1; i <= how.n_wires && how.named; i++) {
        char tag[16];
        snprintf(tag, sizeof tag, "%d", i);
        assert_int_equal(thrum_round_exclude(scene->round, tag, false), THRUM_OK);
    }
}

static void end(struct scene *scene)
{
    thrum_round_destroy(scene->round);
    thrum_practice_destroy(scene->practice);
}

static void hear(struct scene *scene, int place, double seconds)
{
    static float x[RATE * 10];
    size_t n = (size_t)(seconds * RATE);
    thrum_practice_place(scene->practice, place);
    thrum_practice_read(scene->practice, x, n);
    thrum_round_feed(scene->round, x, n);
}

static void act(struct scene *scene, enum thrum_action action, const char *tag)
{
    assert_int_equal(thrum_round_act(scene->round, action, tag), THRUM_OK);
    thrum_round_snapshot(scene->round, &scene->seen);
}

/* Touches the wire; what tag it gets is the round's affair. */
static void touch(struct scene *scene, int wire)
{
    hear(scene, THRUM_PROBE_IN_AIR, 0.7);
    if (!scene->hands_free)
        act(scene, THRUM_TAKE, NULL);
    hear(scene, wire - 1, 3.5);
    if (!scene->hands_free)
        act(scene, THRUM_TAKE, NULL);
    hear(scene, THRUM_PROBE_IN_AIR, 0.7);
    thrum_round_snapshot(scene->round, &scene->seen);
}

static void touch_all(struct scene *scene, int n)
{
    for (int wire = 1; wire <= n; wire++)
        touch(scene, wire);
    assert_int_equal(scene->seen.n_readings, n);
}

static const char *last_tag(const struct scene *scene)
{
    return scene->seen.readings[scene->seen.n_readings - 1].wire;
}

/* The pick is in doubt, and a touch would help. */
static bool is_asked_for(const struct scene *scene)
{
    return scene->seen.pick[0].outcome != THRUM_PICKED && scene->seen.pick[0].next_touch >= 0;
}

/* Wires that hang free, touched once each, are too close to call; tied ones are not. Who touches what the large tag says, with no other key,
 * gives no touch a wrong tag, and comes to the right pick. */
static void who_touches_what_the_tag_says_settles_the_round(struct scene *scene, struct how how, int trials)
{
    int right = 0, wrong = 0, doubtful = 0;
    for (int trial = 0; trial < trials; trial++) {
        how.tied = trial % 2 == 1;
        begin(scene, 5000 + (uint64_t)trial, how);
        touch_all(scene, WIRES);
        doubtful += is_asked_for(scene);
        for (int i = 0; i < 3 && is_asked_for(scene); i++) {
            int wire = atoi(scene->seen.current);
            assert_between(wire, 1, WIRES);
            if (!scene
                     ->hands_free) /* a touch taken ahead is measured once more, and the advice may be another then */
                assert_string_equal(scene->seen.current, scene->seen.wire[scene->seen.pick[0].next_touch]);
            touch(scene, wire);
            assert_int_equal(atoi(last_tag(scene)), wire);
            assert_int_equal(scene->seen.n_wires, WIRES);
        }
        if (scene->seen.pick[0].outcome == THRUM_PICKED) {
            bool is_right = scene->seen.pick[0].wire == thrum_practice_driven(scene->practice);
            assert_string_equal(scene->seen.current, scene->seen.wire[scene->seen.pick[0].wire]);
            right += is_right;
            wrong += !is_right;
        }
        end(scene);
    }
    assert_true(doubtful > 0);
    assert_true(right > wrong);
}

static void by_keys_the_advice_is_followed(void **state)
{
    who_touches_what_the_tag_says_settles_the_round(*state, (struct how){.named = true, .n_wires = WIRES},
                                                    2 * thrum_trials(3));
}

static void with_hands_free_the_advice_is_followed(void **state)
{
    who_touches_what_the_tag_says_settles_the_round(
        *state, (struct how){.hands_free = true, .watched = true, .n_wires = WIRES}, 2);
}

static const struct how known = {.n_wires = WIRES}, counted = {.n_wires = 0},
                        listed = {.named = true, .n_wires = WIRES},
                        unwatched = {.hands_free = true, .n_wires = WIRES};

static void one_key_goes_on_with_new_wires(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5001, known);
    touch_all(scene, WIRES);
    assert_true(atoi(scene->seen.current) <= WIRES);
    act(scene, THRUM_NEW, NULL);
    assert_string_equal(scene->seen.current, "6");
    touch(scene, 3); /* there was one more than said */
    assert_string_equal(last_tag(scene), "6");
    assert_int_equal(scene->seen.n_wires, 6);
    assert_string_not_equal(scene->seen.current, "7");
    act(scene, THRUM_NEW, NULL);
    assert_string_equal(scene->seen.current, "7");
    end(scene);
}

/* One key, and the tag goes through all wires in order, whatever the advice; after the last one the advice counts again. */
static void one_key_has_all_touched_once_more_in_order(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5004, known);
    assert_int_equal(thrum_round_act(scene->round, THRUM_ALL_AGAIN, NULL), THRUM_ERR_NOT_FOUND);
    touch_all(scene, 2);
    act(scene, THRUM_GO_TO, "1");
    act(scene, THRUM_ALL_AGAIN, NULL); /* no tag is known beyond the second */
    for (int wire = 1; wire <= 2; wire++) {
        assert_int_equal(atoi(scene->seen.current), wire);
        touch(scene, wire);
    }
    assert_string_equal(scene->seen.current, "3");
    for (int wire = 3; wire <= WIRES; wire++)
        touch(scene, wire);
    act(scene, THRUM_EXCLUDE, NULL);
    int excluded = atoi(scene->seen.current);
    act(scene, THRUM_ALL_AGAIN, NULL);
    for (int wire = 3; wire <= WIRES; wire++) /* the others have been touched twice */
        if (wire != excluded) {
            assert_true(scene->seen.all_again);
            assert_int_equal(atoi(scene->seen.current), wire);
            touch(scene, wire);
        }
    assert_false(scene->seen.all_again);
    assert_int_equal(scene->seen.n_wires, WIRES);
    end(scene);
}

static void before_all_are_touched_the_hand_goes_on_in_order(void **state)
{
    struct scene *scene = *state;
    const struct how hows[] = {known, listed};
    for (int i = 0; i < 2; i++) {
        begin(scene, 5002, hows[i]);
        act(scene, THRUM_NEW, NULL);
        assert_string_equal(scene->seen.current, "1");
        touch_all(scene, 3);
        assert_string_equal(scene->seen.current, "4");
        act(scene, THRUM_GO_TO, "2");
        touch(scene, 2);
        assert_string_equal(last_tag(scene), "2");
        assert_string_equal(scene->seen.current, "4"); /* not 3, which has been touched */
        act(scene, THRUM_GO_TO, "1");
        act(scene, THRUM_NEW, NULL);
        assert_string_equal(scene->seen.current, "4");
        end(scene);
    }
}

static void a_wire_left_out_is_asked_for_before_any_again(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5003, listed);
    touch_all(scene, 2);
    act(scene, THRUM_GO_TO, "4");
    for (int wire = 4; wire <= WIRES; wire++)
        touch(scene, wire);
    assert_string_equal(scene->seen.current, "3");
    act(scene, THRUM_EXCLUDE, NULL); /* it cannot be it: then it is not asked for */
    act(scene, THRUM_GO_TO, "5");
    touch(scene, 5);
    assert_string_not_equal(scene->seen.current, "3");
    assert_true(atoi(scene->seen.current) <= WIRES);
    end(scene);
}

/* Nobody knows whether more wires will come: a new tag is as good as any, one touched already is not. */
static void where_the_count_is_not_known_new_wires_come_first(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5004, counted);
    touch_all(scene, 4);
    assert_string_equal(scene->seen.current, "5");
    act(scene, THRUM_GO_TO, "2");
    touch(scene, 2);
    assert_string_equal(last_tag(scene), "2");
    if (is_asked_for(scene))
        assert_string_equal(scene->seen.current, scene->seen.wire[scene->seen.pick[0].next_touch]);
    act(scene, THRUM_NEW, NULL);
    assert_string_equal(scene->seen.current, "5");
    end(scene);
}

/* A recorded walk: whoever walked saw no advice. A touch too many must not become another wire's. */
static void where_nobody_watches_tags_follow_in_order(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5005, unwatched);
    touch_all(scene, WIRES);
    assert_string_equal(scene->seen.current, "6");
    end(scene);
}

/* Touches made with another input count no more. */
static void after_another_input_all_wires_are_asked_for_again(void **state)
{
    struct scene *scene = *state;
    begin(scene, 5006, listed);
    touch_all(scene, WIRES);
    thrum_round_other_input(scene->round);
    act(scene, THRUM_GO_TO, "4");
    touch(scene, 4);
    assert_string_equal(scene->seen.current, "5");
    touch(scene, 5);
    assert_string_equal(scene->seen.current, "1");
    end(scene);
}

static int set_up(void **state)
{
    *state = calloc(1, sizeof(struct scene));
    return *state ? 0 : -1;
}

static int tear_down(void **state)
{
    free(*state);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_keys_the_advice_is_followed),
        cmocka_unit_test(with_hands_free_the_advice_is_followed),
        cmocka_unit_test(one_key_goes_on_with_new_wires),
        cmocka_unit_test(one_key_has_all_touched_once_more_in_order),
        cmocka_unit_test(before_all_are_touched_the_hand_goes_on_in_order),
        cmocka_unit_test(a_wire_left_out_is_asked_for_before_any_again),
        cmocka_unit_test(where_the_count_is_not_known_new_wires_come_first),
        cmocka_unit_test(where_nobody_watches_tags_follow_in_order),
        cmocka_unit_test(after_another_input_all_wires_are_asked_for_again),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
