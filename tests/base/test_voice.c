/* What may be a voice, and how long its parts are. */
#include "check.h"

#include <string.h>

#include "cadences.h"
#include "thrum/units.h"
#include "thrum/voice.h"

static void the_everyday_voice_passes(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1037, 0.25, 0.75);
    const char *reason = "not touched";
    assert_int_equal(thrum_voice_check(&voice, &reason), THRUM_OK);
    assert_null(reason);
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_OK);
    assert_string_equal(voice.name, "a");
    assert_close(thrum_voice_cycle_s(&voice), 1.0, 1e-12);
    assert_close(thrum_voice_on_s(&voice), 0.25, 1e-12);
    assert_true(voice.level_dbfs == THRUM_FLOOR_DBFS);
    assert_false(voice.steady);
}

/* ISO 8201 temporal-3 (read in a building code quoting it): 0.5 s on, 0.5 s off, third off 1.5 s, cycle 4 s; mean
 * level of three 0.5 s pulses in 4 s by IEC 61672-1:2013 5.10 eq (9): -4.26 dB (computed: 10 lg(1.5/4)). */
static void temporal_three_has_its_published_cycle_and_mean_level(void **state)
{
    (void)state;
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .tones_hz = {520}, .n_steps = 6};
    const double s[] = {0.5, 0.5, 0.5, 0.5, 0.5, 1.5};
    for (int i = 0; i < 6; i++)
        voice.step[i] = (struct thrum_voice_step){.tone = i % 2 ? THRUM_SILENCE : 0, .s = s[i]};
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_OK);
    assert_close(thrum_voice_cycle_s(&voice), 4.0, 1e-12);
    assert_close(thrum_db_from_power(thrum_voice_on_s(&voice) / thrum_voice_cycle_s(&voice)), -4.26, 0.005);
}

static void every_published_cadence_passes(void **state)
{
    (void)state;
    assert_true(n_cadences > 10);
    for (int i = 0; i < n_cadences; i++) {
        struct thrum_voice voice = cadence_voice(&cadences[i]);
        if (thrum_voice_check(&voice, NULL))
            fail_msg("%s", cadences[i].name);
    }
}

static void steady_voice_is_one_step_and_says_so(void **state)
{
    (void)state;
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .tones_hz = {800}, .n_steps = 1, .steady = true};
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = 1.0};
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_OK);
    voice.steady = false;
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_ERR_ARG);
    voice = thrum_voice_beep(800, 0.2, 0.2);
    voice.steady = true;
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_ERR_ARG);
}

/* One field at a time out of its range; the reason names the thing that is wrong. */
static void expect_wrong(struct thrum_voice voice, const char *word)
{
    const char *reason = NULL;
    assert_int_equal(thrum_voice_check(&voice, &reason), THRUM_ERR_ARG);
    assert_non_null(reason);
    assert_non_null(strstr(reason, word));
}

static void tones_outside_the_range_are_refused(void **state)
{
    (void)state;
    const double bad[] = {299.9, 3400.1, 0.0, -1000.0, (double)NAN, (double)INFINITY};
    for (int i = 0; i < 6; i++)
        expect_wrong(thrum_voice_beep(bad[i], 0.2, 0.2), "Hz");
    const double good[] = {300.0, 3400.0};
    for (int i = 0; i < 2; i++) {
        struct thrum_voice voice = thrum_voice_beep(good[i], 0.2, 0.2);
        assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_OK);
    }
}

static void steps_outside_the_range_are_refused(void **state)
{
    (void)state;
    const double bad[] = {0.0099, 60.1, 0.0, -0.2, (double)NAN, (double)INFINITY};
    for (int i = 0; i < 6; i++) {
        expect_wrong(thrum_voice_beep(1000, bad[i], 0.2), "step");
        expect_wrong(thrum_voice_beep(1000, 0.2, bad[i]), "step");
    }
}

static void counts_outside_the_range_are_refused(void **state)
{
    (void)state;
    const int tones[] = {0, -1, THRUM_VOICE_TONES + 1}, steps[] = {0, -1, THRUM_VOICE_STEPS + 1};
    for (int i = 0; i < 3; i++) {
        struct thrum_voice voice = thrum_voice_beep(1000, 0.2, 0.2);
        voice.n_tones = tones[i];
        expect_wrong(voice, "tones");
        voice = thrum_voice_beep(1000, 0.2, 0.2);
        voice.n_steps = steps[i];
        expect_wrong(voice, "steps");
    }
}

static void patterns_that_make_no_sense_are_refused(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1000, 0.2, 0.2);
    voice.step[1].tone = 1; /* there is no tone 1 */
    expect_wrong(voice, "not in the list");
    voice.step[1].tone = -2;
    expect_wrong(voice, "not in the list");
    voice = thrum_voice_beep(1000, 0.2, 0.2);
    voice.step[1].tone = 0; /* on, and on again */
    expect_wrong(voice, "alike");
    voice = thrum_voice_beep(1000, 0.2, 0.2);
    voice.n_tones = 2;
    voice.tones_hz[1] = 1200; /* never sounds */
    expect_wrong(voice, "not used");
    voice = thrum_voice_beep(1000, 0.2, 0.2);
    voice.n_steps = 3; /* the last and the first are neighbours too */
    voice.step[2] = (struct thrum_voice_step){.tone = 0, .s = 0.2};
    expect_wrong(voice, "alike");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_everyday_voice_passes),
        cmocka_unit_test(temporal_three_has_its_published_cycle_and_mean_level),
        cmocka_unit_test(every_published_cadence_passes),
        cmocka_unit_test(steady_voice_is_one_step_and_says_so),
        cmocka_unit_test(tones_outside_the_range_are_refused),
        cmocka_unit_test(steps_outside_the_range_are_refused),
        cmocka_unit_test(counts_outside_the_range_are_refused),
        cmocka_unit_test(patterns_that_make_no_sense_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
