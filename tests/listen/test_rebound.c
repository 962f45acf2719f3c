/* Sound that comes back by itself after a drop is a level control's doing; a hand's is not. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "listen/rebound.h"
#include "processing.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, LIFTS = 20, TOUCH = 2 * RATE, LIFT = 6 * RATE / 10, N = LIFTS * (TOUCH + LIFT) + TOUCH };

/* Hum on wires, 14 dB less in the air between. near_db: how much it rises again before the next wire; settle_db: and how
 * much on the wire, over half a second; lead_db: how much more there is on one wire of so many. */
static float *walked_on(uint64_t seed, double near_db, double settle_db, double lead_db, int of)
{
    struct rng rng = rng_seeded(seed);
    struct hum hum = {.hz = 50.02, .wander_hz = 0.02, .harmonics = 12, .dbfs = -25, .wobble_db = 1.0};
    float *x = calloc(N, sizeof *x);
    assert_non_null(x);
    add_hum(&rng, x, N, RATE, &hum);
    for (int i = 0; i < N; i++) {
        int at = i % (TOUCH + LIFT) - TOUCH;
        double left_s = (double)(LIFT - at) / RATE;
        double nearing = left_s < 0.35 ? near_db * (1.0 - left_s / 0.35) * (1.0 - left_s / 0.35) : 0.0;
        double settling = settle_db * exp(-(double)(at + TOUCH) / (0.2 * RATE));
        double lead = i / (TOUCH + LIFT) % of == of - 2 ? lead_db : 0.0;
        x[i] *= (float)thrum_amplitude_from_db(at >= 0 ? nearing - 14.0 : lead - settling);
    }
    add_noise(&rng, x, N, 1e-4);
    return x;
}

static float *walked(uint64_t seed, double near_db)
{
    return walked_on(seed, near_db, 0.0, 0.0, 1);
}

static struct thrum_rebound_value told(const float *x, size_t block, uint64_t until)
{
    struct thrum_rebound *rebound;
    struct thrum_rebound_value value;
    assert_int_equal(thrum_rebound_create(RATE, &rebound), THRUM_OK);
    for (size_t at = 0; at < N; at += block)
        thrum_rebound_feed(rebound, x + at, N - at < block ? N - at : block);
    thrum_rebound_judge(rebound, until, &value);
    thrum_rebound_destroy(rebound);
    return value;
}

static void an_honest_input_stays_down(void **state)
{
    (void)state;
    double sum = 0.0;
    for (uint64_t seed = 0; seed < 30; seed++) {
        float *x = walked(seed, 0.0);
        struct thrum_rebound_value value = told(x, N, N);
        assert_int_equal(value.n, LIFTS);
        assert_false(value.rides);
        sum += value.slope;
        free(x);
    }
    assert_close(sum / 30, 0.0, 0.3);
}

/* Attack 1 to 50 ms, release 0.1 to 3 s, ratio 4 to 20. */
static void a_level_control_brings_it_up_again(void **state)
{
    (void)state;
    int found = 0;
    for (uint64_t seed = 0; seed < 30; seed++) {
        struct rng rng = rng_seeded(100 + seed);
        struct level_control control = {.attack_s = 0.001 * pow(50.0, rng_uniform(&rng)),
                                        .release_s = 0.1 * pow(30.0, rng_uniform(&rng)),
                                        .ratio = rng_between(&rng, 4.0, 20.0),
                                        .most_gain_db = 30.0,
                                        .target_dbfs = -10.0};
        float *x = walked(200 + seed, 0.0);
        apply_level_control(x, N, RATE, &control);
        found += told(x, N, N).rides;
        free(x);
    }
    assert_between(found, 28, 30);
}

/* The hand nears the next wire over a third of a second: the hum rises by 9 dB, most of it at the end. */
static void a_hand_that_nears_the_next_wire_is_no_level_control(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 20; seed++) {
        float *x = walked(300 + seed, 9.0);
        struct thrum_rebound_value value = told(x, N, N);
        assert_true(value.slope > 1.0);
        assert_false(value.rides);
        free(x);
    }
}

/* All but one wire are too weak to move it: they are as loud as it lets anything be. */
static void one_strong_wire_among_weak_ones_is_enough(void **state)
{
    (void)state;
    int found = 0;
    for (uint64_t seed = 0; seed < 30; seed++) {
        struct rng rng = rng_seeded(600 + seed);
        struct level_control control = {.attack_s = 0.001 * pow(50.0, rng_uniform(&rng)),
                                        .release_s = rng_between(&rng, 0.4, 3.0),
                                        .ratio = rng_between(&rng, 4.0, 20.0),
                                        .most_gain_db = 10.0,
                                        .target_dbfs = -15.0};
        float *x = walked_on(700 + seed, 0.0, 0.0, 18.0, 8);
        apply_level_control(x, N, RATE, &control);
        found += told(x, N, N).rides;
        free(x);
        x = walked_on(700 + seed, 0.0, 0.0, 18.0, 8);
        assert_false(told(x, N, N).rides);
        free(x);
    }
    assert_between(found, 27, 30);
}

/* A probe that is pressed on: hum rises by 3 dB on every wire, every other one weak. */
static void a_hand_that_settles_is_no_level_control(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 30; seed++) {
        float *x = walked_on(800 + seed, 0.0, 3.0, 14.0, 2);
        assert_false(told(x, N, N).rides);
        free(x);
    }
}

static void few_falls_silence_and_steady_sound_tell_nothing(void **state)
{
    (void)state;
    struct level_control control = {
        .attack_s = 0.01, .release_s = 0.3, .ratio = 10.0, .most_gain_db = 30.0, .target_dbfs = -10.0};
    float *x = walked(400, 0.0);
    apply_level_control(x, N, RATE, &control);
    assert_true(told(x, N, N).rides);
    assert_false(told(x, N, 2 * (TOUCH + LIFT) + 800).rides); /* what ends later does not count */
    free(x);
    x = walked(402, 0.0);
    assert_int_equal(told(x, N, 3 * (TOUCH + LIFT) + 800).n, 3);
    memset(x, 0, N * sizeof *x);
    assert_int_equal(told(x, N, N).n, 0);
    free(x);
    x = calloc(N, sizeof *x);
    struct rng rng = rng_seeded(401);
    add_noise(&rng, x, N, 0.01);
    assert_int_equal(told(x, N, N).n, 0);
    free(x);
}

static void blocks_do_not_matter(void **state)
{
    (void)state;
    float *x = walked(500, 3.0);
    struct thrum_rebound_value whole = told(x, N, N), parts = told(x, 77, N);
    assert_memory_equal(&whole, &parts, sizeof whole);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_honest_input_stays_down),
        cmocka_unit_test(a_level_control_brings_it_up_again),
        cmocka_unit_test(a_hand_that_nears_the_next_wire_is_no_level_control),
        cmocka_unit_test(one_strong_wire_among_weak_ones_is_enough),
        cmocka_unit_test(a_hand_that_settles_is_no_level_control),
        cmocka_unit_test(few_falls_silence_and_steady_sound_tell_nothing),
        cmocka_unit_test(blocks_do_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
