/* A sender whose tones moved is known by its cadence; another one is not taken for it. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/moved.h"
#include "commands/scout.h"
#include "signals.h"

enum { RATE = 8000, N = 3 * RATE };

static struct thrum_voice moved_by(struct thrum_voice voice, double factor)
{
    for (int k = 0; k < voice.n_tones; k++)
        voice.tones_hz[k] *= factor;
    return voice;
}

static struct thrum_voice two_tones(void)
{
    return (struct thrum_voice){.name = "a",
                                .n_tones = 2,
                                .tones_hz = {900.0, 1100.0},
                                .n_steps = 3,
                                .step = {{0, 0.2}, {1, 0.3}, {THRUM_SILENCE, 0.4}}};
}

static void within_eight_per_cent_it_is_the_same_sender(void **state)
{
    (void)state;
    struct thrum_voice learned = thrum_voice_beep(1000.0, 0.25, 0.25), moved;
    for (double factor = 0.925; factor < 1.08; factor += 0.01) {
        struct thrum_voice heard = moved_by(learned, factor);
        assert_true(moved_voice(&learned, &heard, &moved));
        assert_close(moved.tones_hz[0], 1000.0 * factor, 1e-9);
    }
    struct thrum_voice low = moved_by(learned, 0.915), high = moved_by(learned, 1.085);
    assert_false(moved_voice(&learned, &low, &moved));
    /* where it was learned it was measured: that is no move, whatever the last digits say */
    struct thrum_voice same = moved_by(learned, 1.0004), near = moved_by(learned, 1.002);
    assert_false(moved_voice(&learned, &same, &moved));
    assert_true(moved_voice(&learned, &near, &moved));
    assert_false(moved_voice(&learned, &high, &moved));
}

static void another_cadence_is_another_sender(void **state)
{
    (void)state;
    struct thrum_voice learned = thrum_voice_beep(1000.0, 0.25, 0.25), moved;
    struct thrum_voice slower = thrum_voice_beep(1030.0, 0.25, 0.27),
                       longer = thrum_voice_beep(1030.0, 0.28, 0.25), two = two_tones();
    struct thrum_voice steady = {.n_tones = 1, .tones_hz = {1030.0}, .n_steps = 1, .step = {{0, 1.0}}};
    steady.steady = true;
    assert_false(moved_voice(&learned, &slower, &moved));
    assert_false(moved_voice(&learned, &longer, &moved));
    assert_false(moved_voice(&learned, &two, &moved));
    assert_false(moved_voice(&steady, &steady, &moved));
}

/* A pattern begins where it was first heard, and its tones are counted from there. */
static void tones_move_together_wherever_the_pattern_begins(void **state)
{
    (void)state;
    struct thrum_voice learned = two_tones(), moved;
    struct thrum_voice heard = {.n_tones = 2,
                                .tones_hz = {1100.0 * 1.04, 900.0 * 1.04},
                                .n_steps = 3,
                                .step = {{0, 0.3}, {THRUM_SILENCE, 0.4}, {1, 0.2}}};
    assert_true(moved_voice(&learned, &heard, &moved));
    assert_close(moved.tones_hz[0], 936.0, 1e-9);
    assert_close(moved.tones_hz[1], 1144.0, 1e-9);
    assert_int_equal(moved.step[1].tone, 1);
    heard.tones_hz[1] = 900.0;
    assert_false(moved_voice(&learned, &heard, &moved));
}

static void it_is_said_how_far_it_moved(void **state)
{
    (void)state;
    struct thrum_voice learned = thrum_voice_beep(1000.0, 0.25, 0.25), moved = moved_by(learned, 0.95);
    char text[160];
    moved_text(&learned, &moved, text, sizeof text);
    assert_string_equal(text,
                        "the sender is at 950 Hz, 5.0 % below the 1000 Hz it was learned at (its battery?)");
}

/* Is the learned voice found moved in these touches? */
static bool found_in(const float *x, const struct thrum_voice *learned)
{
    struct scout *scout;
    struct thrum_learned heard;
    struct thrum_voice moved;
    assert_int_equal(scout_create(RATE, 1, &scout), THRUM_OK);
    scout_feed(scout, x, N);
    scout_finish(scout);
    bool found = scout_best(scout, &heard) && moved_voice(learned, &heard.voice, &moved);
    scout_destroy(scout);
    return found;
}

/* At most 1 in 1000 is allowed; 60 touches without one are only a guard against more than 1 in 20. */
static void hum_and_noise_are_no_moved_sender(void **state)
{
    (void)state;
    struct thrum_voice learned = thrum_voice_beep(1037.0, 0.25, 0.25);
    float *x = malloc(N * sizeof *x);
    int found = 0;
    for (uint64_t seed = 5000; seed < 5060; seed++) {
        struct rng rng = rng_seeded(seed);
        struct hum hum = {.hz = 50.0, .wander_hz = 0.02, .harmonics = 60, .dbfs = -20.0, .wobble_db = 1.0};
        memset(x, 0, N * sizeof *x);
        add_hum(&rng, x, N, RATE, &hum);
        add_noise(&rng, x, N, 1e-3);
        found += found_in(x, &learned);
    }
    free(x);
    assert_int_equal(found, 0);
}

static void a_moved_sender_is_found_in_noise(void **state)
{
    (void)state;
    struct thrum_voice learned = thrum_voice_beep(1037.0, 0.25, 0.25);
    float *x = malloc(N * sizeof *x);
    for (uint64_t seed = 5000; seed < 5020; seed++) {
        struct rng rng = rng_seeded(seed);
        struct sender sender = {.voice = moved_by(learned, rng_between(&rng, 0.925, 1.075)),
                                .dbfs = -40.0,
                                .start_s = rng_uniform(&rng)};
        memset(x, 0, N * sizeof *x);
        add_sender(&rng, x, N, RATE, &sender);
        add_noise(&rng, x, N, 2e-3);
        assert_true(found_in(x, &learned));
    }
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(within_eight_per_cent_it_is_the_same_sender),
        cmocka_unit_test(another_cadence_is_another_sender),
        cmocka_unit_test(tones_move_together_wherever_the_pattern_begins),
        cmocka_unit_test(it_is_said_how_far_it_moved),
        cmocka_unit_test(hum_and_noise_are_no_moved_sender),
        cmocka_unit_test(a_moved_sender_is_found_in_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
