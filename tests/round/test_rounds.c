/* One round: the right wire is picked from sound, whatever the sender, and the keys do what they say. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "same.h"
#include "walks.h"
#include "wires.h"

/* --- The main job: 12 wires, 3 s each, tone 20 dB under the hum, neighbours 8 dB down --- */

/* Rounds of this plan over seeds [0, n): the right wire picked, with a chance of 0.99 or more; a wrong one never. */
static int right_picks(struct wires_plan plan, int n)
{
    int right = 0;
    for (int seed = 0; seed < n; seed++) {
        int driven;
        plan.seed = (uint64_t)seed;
        struct thrum_snapshot *s = wires_round(&plan, &driven);
        const struct thrum_pick *pick = &s->pick[0];
        assert_int_equal(s->n_readings, plan.n_wires);
        assert_int_equal(pick->wire, driven); /* also when it is not sure yet */
        if (pick->outcome == THRUM_PICKED) {
            assert_between(pick->chance, 0.99, 1.0);
            right++;
        }
        free(s);
    }
    return right;
}

static void the_right_wire_is_picked_under_hum_20_db_louder(void **state)
{
    (void)state;
    assert_between(right_picks(wires_plan_usual(0), 20), 19, 20);
}

static void alternating_tones_are_picked(void **state)
{
    (void)state;
    struct wires_plan plan = wires_plan_usual(0);
    struct thrum_voice *voice = &plan.sender.voice;
    voice->n_tones = 2;
    voice->tones_hz[1] = 1309;
    voice->step[0] = (struct thrum_voice_step){.tone = 0, .s = 0.1};
    voice->step[1] = (struct thrum_voice_step){.tone = 1, .s = 0.15};
    assert_between(right_picks(plan, 20), 19, 20);
}

static void a_tone_exactly_on_a_harmonic_is_picked(void **state)
{
    (void)state;
    struct wires_plan plan = wires_plan_usual(0);
    plan.hum.hz = 50;
    plan.hum.wander_hz = 0;
    plan.sender.voice = thrum_voice_beep(1000, 0.25, 0.25);
    assert_between(right_picks(plan, 20), 18, 20);
}

static void every_sample_rate_picks(void **state)
{
    (void)state;
    const double rates[] = {16000, 44100, 96000};
    for (int i = 0; i < 3; i++) {
        struct wires_plan plan = wires_plan_usual(0);
        plan.rate_hz = rates[i];
        plan.hum.harmonics = 20; /* the fewer, the sooner made */
        plan.touch_s = 2;
        assert_between(right_picks(plan, i < 2 ? 3 : 2), i < 2 ? 3 : 2, 3);
    }
}

static void a_cheap_sender_is_picked(void **state)
{
    (void)state;
    struct wires_plan plan = wires_plan_usual(0);
    plan.sender.square = 1;
    plan.sender.drift_hz_per_s = 0.25;
    assert_between(right_picks(plan, 20), 19, 20);
}

static void without_a_tone_nothing_is_picked(void **state)
{
    (void)state;
    struct wires_plan plan = wires_plan_usual(0);
    plan.no_sender = true;
    for (int seed = 0; seed < 20; seed++) {
        int driven;
        plan.seed = (uint64_t)seed;
        struct thrum_snapshot *s = wires_round(&plan, &driven);
        assert_int_equal(s->pick[0].outcome, THRUM_NO_TONE);
        assert_int_equal(s->pick[0].wire, -1);
        free(s);
    }
}

static void a_tone_on_all_wires_alike_is_everywhere(void **state)
{
    (void)state;
    struct wires_plan plan = wires_plan_usual(0);
    plan.least_down_db = 0;
    for (int seed = 0; seed < 20; seed++) {
        int driven;
        plan.seed = (uint64_t)seed;
        struct thrum_snapshot *s = wires_round(&plan, &driven);
        assert_int_equal(s->pick[0].outcome, THRUM_EVERYWHERE);
        free(s);
    }
}

/* --- Keys --- */

static struct thrum_round *made(void)
{
    static struct thrum_round_config config; /* large; all zero but what is set here */
    struct thrum_round *round;
    memset(&config, 0, sizeof config);
    config.pick = thrum_pick_config_default();
    config.listener =
        (struct thrum_listener_config){.rate_hz = 8000, .channels = 1, .channel = -1, .n_voices = 1};
    config.listener.voice[0] = thrum_voice_beep(1037, 0.25, 0.25);
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    return round;
}

static void hear(struct thrum_round *round, double dbfs, double seconds)
{
    size_t n = (size_t)(8000 * seconds);
    float *x = calloc(n, sizeof *x);
    struct rng rng = rng_seeded((uint64_t)(-1000 * dbfs));
    struct sender sender = {.voice = thrum_voice_beep(1037, 0.25, 0.25), .dbfs = dbfs};
    assert_non_null(x);
    add_noise(&rng, x, n, 1e-4);
    if (dbfs > -150)
        add_sender(&rng, x, n, 8000, &sender);
    thrum_round_feed(round, x, n);
    free(x);
}

static struct thrum_snapshot *seen(struct thrum_round *round)
{
    struct thrum_snapshot *s = malloc(sizeof *s);
    assert_non_null(s);
    thrum_round_snapshot(round, s);
    return s;
}

static void expect_current(struct thrum_round *round, const char *tag, int n_readings)
{
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, tag);
    assert_int_equal(s->n_readings, n_readings);
    free(s);
}

static void take(struct thrum_round *round, double dbfs)
{
    assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
    hear(round, dbfs, 2);
    assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
}

static void a_touch_is_begun_and_ended_and_the_tag_moves_on(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    expect_current(round, "1", 0);
    take(round, -40);
    expect_current(round, "2", 1);
    take(round, -50);
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->readings[0].wire, "1");
    assert_string_equal(s->readings[1].wire, "2");
    assert_int_equal(s->readings[1].first_frame, 16000);
    assert_int_equal(s->readings[1].touch, 1);
    assert_close(s->readings[0].strength[0].dbfs, -40.0, 0.1);
    assert_close(s->readings[1].strength[0].dbfs, -50.0, 0.3);
    assert_int_equal(s->pick[0].wire, 0);
    free(s);
    thrum_round_destroy(round);
}

static void next_previous_and_go_to_move_the_tag_only(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    thrum_round_act(round, THRUM_NEXT, NULL);
    thrum_round_act(round, THRUM_NEXT, NULL);
    thrum_round_act(round, THRUM_PREVIOUS, NULL);
    expect_current(round, "2", 0);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, "w07"), THRUM_OK);
    take(round, -40);
    expect_current(round, "w08", 1);
    assert_int_equal(thrum_round_act(round, THRUM_REPEAT, NULL), THRUM_OK);
    take(round, -41);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(s->n_wires, 1);
    assert_string_equal(s->readings[1].wire, "w07");
    assert_int_equal(s->readings[1].touch, 2);
    free(s);
    thrum_round_destroy(round);
}

static void undo_takes_back_the_last_reading_or_the_touch_in_progress(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    assert_int_equal(thrum_round_act(round, THRUM_UNDO, NULL), THRUM_ERR_NOT_FOUND);
    assert_int_equal(thrum_round_act(round, THRUM_REPEAT, NULL), THRUM_ERR_NOT_FOUND);
    take(round, -40);
    take(round, -30);
    thrum_round_act(round, THRUM_TAKE, NULL);
    hear(round, -40, 1);
    assert_int_equal(thrum_round_act(round, THRUM_UNDO, NULL), THRUM_OK); /* the touch */
    expect_current(round, "3", 2);
    assert_int_equal(thrum_round_act(round, THRUM_UNDO, NULL), THRUM_OK); /* the reading of wire 2 */
    struct thrum_snapshot *s = seen(round);
    assert_string_equal(s->current, "2");
    assert_int_equal(s->n_readings, 1);
    assert_int_equal(s->n_wires, 1); /* a slip of the tag leaves no wire behind that is never touched */
    assert_int_equal(s->pick[0].wire, 0);
    free(s);
    thrum_round_destroy(round);
}

/* Any touch can be taken back, not only the last; the pick follows at once. */
static void a_dropped_touch_is_gone_from_the_pick(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    take(round, -50);
    take(round, -20); /* a slip: the probe touched the sender's own wire */
    take(round, -30);
    thrum_round_act(round, THRUM_GO_TO, "2");
    take(round, -51);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(s->n_readings, 4);
    free(s);
    thrum_round_act(round, THRUM_GO_TO, "2");
    assert_int_equal(thrum_round_act(round, THRUM_DROP, NULL), THRUM_OK); /* the second touch of 2 */
    assert_int_equal(thrum_round_act(round, THRUM_DROP, NULL), THRUM_OK); /* the slip */
    s = seen(round);
    assert_string_equal(s->current, "2");
    assert_int_equal(s->n_readings, 2);
    assert_int_equal(s->n_wires, 2);
    assert_string_equal(s->wire[s->pick[0].wire], "3");
    assert_string_equal(s->readings[1].wire, "3");
    assert_close(s->now.best_dbfs[0], s->readings[1].strength[0].dbfs, 1e-12); /* the slip leaves no mark */
    free(s);
    assert_int_equal(thrum_round_act(round, THRUM_DROP, NULL), THRUM_ERR_NOT_FOUND);
    thrum_round_destroy(round);
}

static void an_excluded_wire_is_never_picked_until_it_is_let_in_again(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    take(round, -30);
    take(round, -50);
    take(round, -52);
    thrum_round_act(round, THRUM_GO_TO, "1");
    assert_int_equal(thrum_round_act(round, THRUM_EXCLUDE, NULL), THRUM_OK);
    struct thrum_snapshot *s = seen(round);
    assert_true(s->excluded[0]);
    assert_int_not_equal(s->pick[0].wire, 0);
    free(s);
    assert_int_equal(thrum_round_act(round, THRUM_EXCLUDE, NULL), THRUM_OK);
    s = seen(round);
    assert_false(s->excluded[0]);
    assert_int_equal(s->pick[0].wire, 0);
    free(s);
    thrum_round_destroy(round);
}

static void wires_that_are_excluded_need_no_touch(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    int n_wires;
    take(round, -50);
    thrum_round_act(round, THRUM_GO_TO, "5");
    thrum_round_act(round, THRUM_EXCLUDE, NULL);
    thrum_round_act(round, THRUM_GO_TO, "6");
    thrum_round_act(round, THRUM_EXCLUDE, NULL);
    thrum_round_act(round, THRUM_EXCLUDE, NULL);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(thrum_snapshot_untouched(s, 0, &n_wires), 1); /* 6, which can be it again */
    assert_int_equal(n_wires, 2);
    free(s);
    thrum_round_destroy(round);
}

static void the_graver_caveat_of_two_is_said(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    take(round, -50);
    take(round, -70);
    struct thrum_snapshot *s = seen(round);
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_NONE);
    assert_int_equal(s->pick[0].outcome, THRUM_PICKED);
    s->readings[1].faults |= THRUM_FAULT_COUNT; /* after the wire picked: that one's tag stands */
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_NONE);
    s->pick[0].outcome = THRUM_TOO_CLOSE;
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_COUNT);
    s->pick[0].outcome = THRUM_PICKED;
    s->readings[0].faults |= THRUM_FAULT_COUNT;
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_COUNT);
    s->pick[0].notes |= THRUM_NOTE_UNTRUSTED;
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_UNTRUSTED);
    s->pick[0].notes = 0; /* no reading is marked, ... */
    s->now.faults = THRUM_FAULT_GAIN_RIDING | THRUM_FAULT_DC;
    assert_int_equal(thrum_snapshot_caveat(s, 0),
                     THRUM_CAVEAT_UNTRUSTED); /* ...but the input line says it, ... */
    s->finished = true;
    assert_int_equal(thrum_snapshot_caveat(s, 0),
                     THRUM_CAVEAT_COUNT); /* ...which does not outlive the round */
    s->finished = false;
    s->now.faults = THRUM_FAULT_DC;
    s->so_far.faults = THRUM_FAULT_SUPPRESSED;
    s->touching = false;
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_COUNT);
    s->touching = true; /* and so says the touch in progress */
    assert_int_equal(thrum_snapshot_caveat(s, 0), THRUM_CAVEAT_UNTRUSTED);
    assert_string_equal(thrum_caveat_name(THRUM_CAVEAT_NONE), "");
    assert_string_not_equal(thrum_caveat_name(THRUM_CAVEAT_COUNT), thrum_caveat_name(THRUM_CAVEAT_UNTRUSTED));
    free(s);
    thrum_round_destroy(round);
}

static void finishing_takes_the_touch_in_progress_and_hears_no_more(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    thrum_round_act(round, THRUM_TAKE, NULL);
    hear(round, -40, 2);
    thrum_round_act(round, THRUM_FINISH, NULL);
    hear(round, -40, 2);
    thrum_round_lost(round, 100);
    struct thrum_snapshot *s = seen(round);
    assert_true(s->finished);
    assert_false(s->touching);
    assert_int_equal(s->n_readings, 1);
    assert_int_equal(s->now.frames, 16000);
    free(s);
    thrum_round_end(round); /* once more: nothing */
    expect_current(round, "2", 1);
    thrum_round_destroy(round);
}

static void wrong_tags_configs_and_readings_are_refused(void **state)
{
    (void)state;
    struct thrum_round *round = made(), *none = round;
    static struct thrum_round_config config;
    char longest[THRUM_WIRE_TAG_SIZE + 1];
    memset(longest, 'x', sizeof longest);
    longest[THRUM_WIRE_TAG_SIZE] = '\0';
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, NULL), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, ""), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_act(round, THRUM_GO_TO, longest), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_act(round, (enum thrum_action)99, NULL), THRUM_ERR_ARG);
    hear(round, -40, 1);
    assert_int_equal(thrum_round_mark(round, "7", (struct thrum_span){0, 8001}), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_mark(round, "7", (struct thrum_span){5, 5}), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_mark(round, "", (struct thrum_span){0, 8000}), THRUM_ERR_ARG);
    assert_int_equal(thrum_round_mark(round, "7", (struct thrum_span){0, 8000}), THRUM_OK);
    struct thrum_reading reading = {.wire = "8", .n_senders = 2};
    assert_int_equal(thrum_round_add(round, &reading), THRUM_ERR_ARG);
    expect_current(round, "1", 1);
    config.n_wires = THRUM_MAX_WIRES + 1;
    assert_int_equal(thrum_round_create(&config, &none), THRUM_ERR_ARG);
    assert_null(none);
    config.n_wires = 0; /* rate 0 is the listener's to refuse */
    assert_int_equal(thrum_round_create(&config, &none), THRUM_ERR_ARG);
    assert_null(none);
    thrum_round_destroy(round);
    thrum_round_destroy(NULL);
}

static void readings_beyond_the_last_place_are_refused(void **state)
{
    (void)state;
    struct thrum_round *round = made();
    struct thrum_reading reading = {.wire = "1", .n_senders = 1, .rate_hz = 8000, .frames = 8000};
    for (int i = 0; i < THRUM_MAX_READINGS; i++)
        assert_int_equal(thrum_round_add(round, &reading), THRUM_OK);
    assert_int_equal(thrum_round_add(round, &reading), THRUM_ERR_FULL);
    assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_ERR_FULL);
    thrum_round_destroy(round);
}

/* --- Live and file --- */

enum { LOOKS = 24, LOOK_EACH = 7056 };

/* A walk by blocks of this size, hands free and with the bar, looked at every LOOK_EACH frames. */
static struct thrum_snapshot *looks_at(const struct walk *walk, size_t block)
{
    static struct thrum_round_config config;
    struct thrum_snapshot *looks = malloc((LOOKS + 1) * sizeof *looks);
    struct thrum_round *round;
    assert_non_null(looks);
    memset(&config, 0, sizeof config);
    config.pick = thrum_pick_config_default();
    config.hands_free = true;
    config.listener = (struct thrum_listener_config){
        .rate_hz = walk->rate_hz, .channels = 1, .channel = -1, .n_voices = 1, .bar = true};
    config.listener.voice[0] = walk->voice;
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    size_t at = 0;
    for (int i = 0; i < LOOKS; i++) {
        size_t until = (size_t)(i + 1) * LOOK_EACH;
        while (at < until) {
            size_t n = until - at < block ? until - at : block;
            thrum_round_feed(round, walk->x + at, n);
            at += n;
        }
        thrum_round_snapshot(round, &looks[i]);
    }
    thrum_round_feed(round, walk->x + at, walk->n - at);
    thrum_round_end(round);
    thrum_round_snapshot(round, &looks[LOOKS]);
    thrum_round_destroy(round);
    return looks;
}

/* To the last digit. */
static void snapshots_are_the_same_whatever_the_blocks(void **state)
{
    (void)state;
    struct thrum_practice_config config = thrum_practice_config_default(5);
    const size_t blocks[] = {1, 64, 441, 4096};
    config.n_wires = 5;
    config.rate_hz = 8820; /* 441 is 50 ms of it, and it is no multiple of the others */
    struct walk walk = walk_made(&config);
    assert_true(walk.n > LOOKS * LOOK_EACH);
    struct thrum_snapshot *whole = looks_at(&walk, walk.n);
    assert_int_equal(whole[LOOKS].n_readings, 5);
    assert_true(whole[LOOKS - 4].n_readings > 0);
    int touching = 0;
    for (int i = 0; i < LOOKS; i++)
        touching += whole[i].so_far.frames > 0;
    assert_true(touching > 3);
    for (int b = 0; b < 4; b++) {
        struct thrum_snapshot *looks = looks_at(&walk, blocks[b]);
        for (int i = 0; i <= LOOKS; i++)
            expect_same_snapshot(&looks[i], &whole[i]);
        free(looks);
    }
    free(whole);
    walk_free(&walk);
}

static void a_walk_hands_free_gives_the_driven_wire(void **state)
{
    (void)state;
    struct thrum_practice_config config = thrum_practice_config_default(6);
    config.n_wires = 8;
    config.rate_hz = 8000;
    config.ending = THRUM_ENDING_LOADED; /* neighbours 30 dB down: one touch each is enough */
    struct walk walk = walk_made(&config);
    struct thrum_snapshot *looks = looks_at(&walk, 4096);
    assert_int_equal(looks[LOOKS].n_readings, 8);
    assert_int_equal(looks[LOOKS].pick[0].outcome, THRUM_PICKED);
    assert_int_equal(looks[LOOKS].pick[0].wire, walk.driven);
    free(looks);
    walk_free(&walk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_right_wire_is_picked_under_hum_20_db_louder),
        cmocka_unit_test(alternating_tones_are_picked),
        cmocka_unit_test(a_tone_exactly_on_a_harmonic_is_picked),
        cmocka_unit_test(every_sample_rate_picks),
        cmocka_unit_test(a_cheap_sender_is_picked),
        cmocka_unit_test(without_a_tone_nothing_is_picked),
        cmocka_unit_test(a_tone_on_all_wires_alike_is_everywhere),
        cmocka_unit_test(a_touch_is_begun_and_ended_and_the_tag_moves_on),
        cmocka_unit_test(next_previous_and_go_to_move_the_tag_only),
        cmocka_unit_test(undo_takes_back_the_last_reading_or_the_touch_in_progress),
        cmocka_unit_test(a_dropped_touch_is_gone_from_the_pick),
        cmocka_unit_test(an_excluded_wire_is_never_picked_until_it_is_let_in_again),
        cmocka_unit_test(wires_that_are_excluded_need_no_touch),
        cmocka_unit_test(the_graver_caveat_of_two_is_said),
        cmocka_unit_test(finishing_takes_the_touch_in_progress_and_hears_no_more),
        cmocka_unit_test(wrong_tags_configs_and_readings_are_refused),
        cmocka_unit_test(readings_beyond_the_last_place_are_refused),
        cmocka_unit_test(snapshots_are_the_same_whatever_the_blocks),
        cmocka_unit_test(a_walk_hands_free_gives_the_driven_wire),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
