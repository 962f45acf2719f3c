/* Where beeps lie, given a voice and its timing. */
#include "check.h"

#include "cadences.h"
#include "signal/beeps.h"

static void beeps_of_a_plain_voice_lie_where_they_should(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 0.2, 0.3);
    struct thrum_timing timing = {.start_s = 0.1, .scale = 1.0};
    struct thrum_beep beep[16];
    assert_int_equal(thrum_beeps_list(&voice, &timing, 0.0, 1.5, 1.0, beep, 16), 4);
    const double from[] = {0.0, 0.4, 0.9, 1.4}, to[] = {0.1, 0.6, 1.1, 1.5};
    for (int i = 0; i < 4; i++) {
        assert_close(beep[i].from_s, from[i], 1e-12);
        assert_close(beep[i].to_s, to[i], 1e-12);
        assert_close(beep[i].whole_s, 0.2, 1e-12);
        assert_int_equal(beep[i].begins, i != 0);
        assert_int_equal(beep[i].ends, i != 3);
        assert_int_equal(beep[i].cycle, i);
        assert_true(beep[i].before_pause);
    }
}

static void a_slower_clock_and_longer_beeps_move_the_edges(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 0.2, 0.3);
    struct thrum_timing timing = {.start_s = 0.0, .scale = 1.1, .stretch_s = 0.01};
    struct thrum_beep beep[16];
    assert_true(thrum_beeps_list(&voice, &timing, 0.0, 2.0, 1.0, beep, 16) >= 3);
    for (int i = 0; i < 3; i++) {
        assert_close(beep[i].from_s, 0.55 * i, 1e-12);
        assert_close(beep[i].to_s, 0.55 * i + 0.22 + 0.01, 1e-12);
    }
}

static void long_tones_come_in_equal_parts(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 1.0, 0.5);
    struct thrum_timing timing = {.scale = 1.0};
    struct thrum_beep beep[16];
    assert_int_equal(thrum_beeps_list(&voice, &timing, 0.0, 1.4, 0.3, beep, 16), 4);
    for (int i = 0; i < 4; i++) {
        assert_close(beep[i].from_s, 0.25 * i, 1e-12);
        assert_close(beep[i].whole_s, 1.0, 1e-12);
        assert_int_equal(beep[i].begins, i == 0);
        assert_int_equal(beep[i].ends, i == 3);
    }
}

static void a_steady_voice_fills_the_stretch(void **state)
{
    (void)state;
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .tones_hz = {800}, .n_steps = 1, .steady = true};
    struct thrum_timing timing = {.scale = 1.0};
    struct thrum_beep beep[16];
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = 1.0};
    assert_int_equal(thrum_beeps_list(&voice, &timing, 2.0, 5.0, 1.0, beep, 16), 3);
    assert_close(beep[0].from_s, 2.0, 1e-12);
    assert_close(beep[2].to_s, 5.0, 1e-12);
    assert_false(beep[0].begins || beep[2].ends); /* cut, not keyed */
}

/* Over many whole cycles every published cadence sounds for its own share of the time: on-time over cycle. */
static void published_cadences_sound_for_their_duty(void **state)
{
    (void)state;
    for (int c = 0; c < n_cadences; c++) {
        struct thrum_voice voice = cadence_voice(&cadences[c]);
        struct thrum_timing timing = {.start_s = 0.37 * thrum_voice_cycle_s(&voice), .scale = 1.0};
        static struct thrum_beep beep[1024];
        double cycle = thrum_voice_cycle_s(&voice), on = 0.0, last = -1.0;
        int n = thrum_beeps_list(&voice, &timing, 0.0, 10 * cycle, 0.6, beep, 1024);
        for (int i = 0; i < n; i++) {
            on += beep[i].to_s - beep[i].from_s;
            assert_true(beep[i].from_s >= last - 1e-9 && beep[i].to_s > beep[i].from_s);
            last = beep[i].to_s;
        }
        assert_close(on, 10 * thrum_voice_on_s(&voice), 1e-6);
    }
}

static void the_room_is_never_exceeded(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 0.05, 0.05);
    struct thrum_timing timing = {.scale = 1.0};
    struct thrum_beep beep[9];
    beep[8].tone = 77;
    assert_int_equal(thrum_beeps_list(&voice, &timing, 0.0, 60.0, 1.0, beep, 8), 8);
    assert_int_equal(beep[8].tone, 77);
    assert_int_equal(thrum_beeps_list(&voice, &timing, 1.0, 1.0, 1.0, beep, 8), 0);
}

static void shortest_step_and_longest_tone_are_found(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 0.7, 0.3);
    assert_close(thrum_beeps_shortest_s(&voice), 0.3, 1e-12);
    assert_close(thrum_beeps_longest_tone_s(&voice), 0.7, 1e-12);
    voice = thrum_voice_beep(1000, 0.2, 2.0);
    assert_close(thrum_beeps_shortest_s(&voice), 0.2, 1e-12);
    assert_close(thrum_beeps_longest_tone_s(&voice), 0.2, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(beeps_of_a_plain_voice_lie_where_they_should),
        cmocka_unit_test(a_slower_clock_and_longer_beeps_move_the_edges),
        cmocka_unit_test(long_tones_come_in_equal_parts),
        cmocka_unit_test(a_steady_voice_fills_the_stretch),
        cmocka_unit_test(published_cadences_sound_for_their_duty),
        cmocka_unit_test(the_room_is_never_exceeded),
        cmocka_unit_test(shortest_step_and_longest_tone_are_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
