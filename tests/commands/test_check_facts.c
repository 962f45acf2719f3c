/* What a check makes of a sound whose truth is known. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/check_facts.h"
#include "processing.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, SECONDS = 8, N = RATE * SECONDS };

/* At the sender's lead: beeps at -20 dBFS, hum 4 dB less, noise. */
static struct check_sound lead(int channels, double noise_dbfs)
{
    struct check_sound sound = {
        .info = {.name = "a test", .rate_hz = RATE, .channels = channels, .live = true}, .frames = N};
    struct rng rng = rng_seeded(5);
    struct sender sender = {.voice = thrum_voice_beep(1037, 0.25, 0.25), .dbfs = -20};
    struct hum hum = {.hz = 50, .harmonics = 10, .dbfs = -24};
    float *x = calloc(N, sizeof *x);
    sound.samples = calloc((size_t)(N * channels), sizeof *sound.samples);
    assert_non_null(x);
    assert_non_null(sound.samples);
    add_sender(&rng, x, N, RATE, &sender);
    add_hum(&rng, x, N, RATE, &hum);
    add_noise(&rng, x, N, thrum_amplitude_from_db(noise_dbfs) / sqrt(2.0));
    for (int i = 0; i < N; i++)
        for (int c = 0; c < channels; c++)
            sound.samples[i * channels + c] = x[i];
    free(x);
    return sound;
}

/* Looks at it and lets it go. */
static struct check_facts looked(struct check_sound *sound)
{
    struct check_facts facts;
    assert_int_equal(check_look(sound, &facts), THRUM_OK);
    free(sound->samples);
    return facts;
}

static void a_good_input_is_trusted_and_its_levels_are_told(void **state)
{
    (void)state;
    struct check_sound sound = lead(1, -45.0);
    struct check_facts facts = looked(&sound);
    assert_int_equal(facts.verdict, CHECK_TRUSTED);
    assert_int_equal(facts.faults, 0);
    assert_close(facts.tone_dbfs, -20.0, 0.1);
    assert_close(facts.hum_dbfs, -24.0, 0.2);
    assert_close(facts.mains_hz, 50.0, 0.01);
    /* of white noise at -45 dBFS over 4000 Hz, 3100 Hz hold 10 lg(3100 / 4000) = -1.1 dB of it */
    assert_close(facts.noise_dbfs, -46.1, 1.0);
    assert_close(facts.breath_db, 0.0, 0.3);
    assert_string_equal(check_missing(&facts), "");
}

static void monitors_and_bluetooth_are_not_to_be_trusted_however_they_sound(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct check_sound sound = lead(1, -60.0);
        sound.info.monitor = i == 0;
        sound.info.bluetooth = i == 1;
        struct check_facts facts = looked(&sound);
        assert_int_equal(facts.verdict, CHECK_NOT_TRUSTED);
        assert_int_equal(facts.faults, 0);
    }
}

static void frames_that_did_not_arrive_are_lost(void **state)
{
    (void)state;
    struct check_sound sound = lead(1, -60.0);
    sound.lost = 800;
    struct check_facts facts = looked(&sound);
    assert_int_equal(facts.verdict, CHECK_NOT_TRUSTED);
    assert_int_equal(facts.faults, THRUM_FAULT_LOST);
    assert_close(facts.lost_s, 0.1, 1e-9);
}

static void a_dead_or_an_opposite_side_is_told_and_strengths_hold(void **state)
{
    (void)state;
    for (int opposite = 0; opposite < 2; opposite++) {
        struct check_sound sound = lead(2, -60.0);
        for (int i = 0; i < N; i++)
            sound.samples[2 * i + (opposite ? 1 : 0)] *= opposite ? -1.0f : 0.0f;
        struct check_facts facts = looked(&sound);
        assert_int_equal(facts.verdict, CHECK_TRUSTED);
        assert_int_equal(facts.faults, opposite ? THRUM_FAULT_CANCELLING : THRUM_FAULT_ONE_SIDED);
        assert_int_equal(facts.channel, opposite ? 0 : 1);
        assert_close(facts.tone_dbfs, -20.0, 0.1);
    }
}

static void what_is_too_quiet_too_short_or_not_a_number_is_told(void **state)
{
    (void)state;
    struct check_sound quiet = lead(1, -60.0), brief = lead(1, -60.0), bad = lead(1, -60.0);
    for (int i = 0; i < N; i++)
        quiet.samples[i] *= 1e-4f;
    struct check_facts facts = looked(&quiet);
    assert_int_equal(facts.verdict, CHECK_NOT_TRUSTED);
    assert_int_equal(facts.faults, THRUM_FAULT_LOW);
    brief.frames = RATE / 2;
    facts = looked(&brief);
    assert_int_equal(facts.verdict, CHECK_UNCLEAR);
    assert_non_null(strstr(check_missing(&facts), "too little sound"));
    bad.samples[N / 2] = NAN;
    bad.samples[N / 3] = (float)INFINITY;
    facts = looked(&bad);
    assert_int_equal(facts.faults, THRUM_FAULT_NOT_FINITE);
    assert_true(isfinite(facts.noise_dbfs) && isfinite(facts.peak_dbfs) && isfinite(facts.rise));
}

/* The same beeps 12 dB under the hum: nothing breathes, but nothing would. */
static void beeps_far_below_the_hum_leave_it_unclear(void **state)
{
    (void)state;
    struct check_sound sound = lead(1, -60.0);
    struct rng rng = rng_seeded(6);
    struct hum hum = {.hz = 50, .harmonics = 10, .dbfs = -8};
    add_hum(&rng, sound.samples, N, RATE, &hum);
    struct check_facts facts = looked(&sound);
    assert_true(facts.told > 0);
    assert_int_equal(facts.verdict, CHECK_UNCLEAR);
    assert_non_null(strstr(check_missing(&facts), "hum is louder"));
}

/* A probe held still at the lead, ten seconds through a level control: neither stretch of five proves it, both do. */
static void a_level_control_shows_at_one_place(void **state)
{
    (void)state;
    enum { LENGTH = 10 * RATE };
    static float x[LENGTH];
    struct level_control control = {
        .attack_s = 0.003, .release_s = 0.6, .ratio = 4.7, .most_gain_db = 60, .target_dbfs = -20};
    for (int through = 0; through <= 1; through++) {
        struct check_sound sound = {
            .info = {.name = "a test", .rate_hz = RATE, .channels = 1}, .samples = x, .frames = LENGTH};
        struct check_facts facts;
        struct rng rng = rng_seeded(12);
        struct sender sender = {.voice = thrum_voice_beep(1537, 0.36, 0.17), .dbfs = -20, .wobble_db = 1.3};
        struct hum hum = {.hz = 50, .harmonics = 30, .dbfs = -54, .wobble_db = 0.5};
        memset(x, 0, sizeof x);
        add_sender(&rng, x, LENGTH, RATE, &sender);
        add_hum(&rng, x, LENGTH, RATE, &hum);
        add_noise(&rng, x, LENGTH, 2e-4);
        if (through)
            apply_level_control(x, LENGTH, RATE, &control);
        assert_int_equal(check_look(&sound, &facts), THRUM_OK);
        assert_int_equal(facts.verdict, through ? CHECK_NOT_TRUSTED : CHECK_TRUSTED);
        assert_int_equal(facts.faults, through ? THRUM_FAULT_GAIN_RIDING : 0);
        assert_int_equal(facts.seen[3], 0);
        assert_int_equal(facts.told, 2);
    }
}

/* What takes hum and noise down by 4 dB between the beeps is no level control, and no input to be trusted: lifts, or beeps
   that end, may tell as often as they like that nothing comes up again. */
static void a_floor_that_sinks_in_the_pauses_is_unclear(void **state)
{
    (void)state;
    for (int sinks = 0; sinks <= 1; sinks++) {
        struct check_sound sound = lead(1, -60.0);
        struct rng rng = rng_seeded(13);
        struct sender sender = {.voice = thrum_voice_beep(1037, 0.3, 0.7), .dbfs = -20};
        memset(sound.samples, 0, N * sizeof *sound.samples);
        add_noise(&rng, sound.samples, N, 1e-3);
        for (int i = 0; i < N && sinks; i++)
            if (i % RATE >= 3 * RATE / 10)
                sound.samples[i] *= 0.63f;
        add_sender(&rng, sound.samples, N, RATE, &sender);
        struct check_facts facts = looked(&sound);
        assert_int_equal(facts.verdict, sinks ? CHECK_UNCLEAR : CHECK_TRUSTED);
        assert_int_equal(facts.faults, 0);
        assert_true(facts.would_show && facts.falls >= 6); /* by the ends of the beeps */
        if (sinks)
            assert_non_null(strstr(check_missing(&facts), "noise suppression or a gate may be on"));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_input_is_trusted_and_its_levels_are_told),
        cmocka_unit_test(monitors_and_bluetooth_are_not_to_be_trusted_however_they_sound),
        cmocka_unit_test(frames_that_did_not_arrive_are_lost),
        cmocka_unit_test(a_dead_or_an_opposite_side_is_told_and_strengths_hold),
        cmocka_unit_test(what_is_too_quiet_too_short_or_not_a_number_is_told),
        cmocka_unit_test(beeps_far_below_the_hum_leave_it_unclear),
        cmocka_unit_test(a_level_control_shows_at_one_place),
        cmocka_unit_test(a_floor_that_sinks_in_the_pauses_is_unclear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
