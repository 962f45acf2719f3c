/* The faults of a simulated input: each is what it is said to be, and none where none is asked for. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "thrum/practice.h"

enum { RATE = 8000, N = 6 * RATE };

static float *heard(enum thrum_practice_fault fault, size_t block)
{
    struct thrum_practice_config config = thrum_practice_config_default(21);
    struct thrum_practice *practice;
    float *x = calloc(N, sizeof *x);
    config.rate_hz = RATE;
    config.fault = fault;
    config.hum_over_tone_db = -20.0;
    assert_non_null(x);
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_OK);
    thrum_practice_place(practice, thrum_practice_driven(practice));
    for (size_t at = 0; at < N; at += block)
        thrum_practice_read(practice, x + at, N - at < block ? N - at : block);
    thrum_practice_destroy(practice);
    return x;
}

static double power(const float *x, int from, int to)
{
    double sum = 0.0;
    for (int i = from; i < to; i++)
        sum += (double)x[i] * (double)x[i];
    return sum / (to - from);
}

static void every_fault_has_a_name_and_is_found_by_it(void **state)
{
    (void)state;
    enum thrum_practice_fault found = THRUM_PRACTICE_DC;
    for (int i = 0; i < THRUM_PRACTICE_FAULTS; i++) {
        assert_true(
            thrum_practice_fault_find(thrum_practice_fault_name((enum thrum_practice_fault)i), &found));
        assert_int_equal(found, i);
    }
    assert_false(thrum_practice_fault_find("loud", &found));
    assert_null(thrum_practice_fault_name(THRUM_PRACTICE_FAULTS));
    struct thrum_practice_config config = thrum_practice_config_default(1);
    struct thrum_practice *practice;
    config.fault = THRUM_PRACTICE_FAULTS;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_ERR_ARG);
}

static void blocks_do_not_matter(void **state)
{
    (void)state;
    for (int i = 0; i < THRUM_PRACTICE_FAULTS; i++) {
        float *whole = heard((enum thrum_practice_fault)i, N),
              *parts = heard((enum thrum_practice_fault)i, 77);
        assert_memory_equal(whole, parts, N * sizeof *whole);
        free(whole);
        free(parts);
    }
}

static void constants_zeros_and_cut_tops_are_that(void **state)
{
    (void)state;
    float *good = heard(THRUM_PRACTICE_NO_FAULT, N), *dc = heard(THRUM_PRACTICE_DC, N),
          *silent = heard(THRUM_PRACTICE_SILENT, N), *clipped = heard(THRUM_PRACTICE_CLIPPED, N);
    float highest = 0.0f;
    int at_top = 0;
    for (int i = 0; i < N; i++) {
        assert_close(dc[i], (double)good[i] + 0.05, 1e-7);
        assert_true(silent[i] >= 0.0f && silent[i] <= 0.0f);
        highest = fmaxf(highest, clipped[i]);
    }
    for (int i = 0; i < N; i++)
        at_top += clipped[i] >= highest;
    assert_true(at_top > 100);
    assert_true(highest < 0.02f);
    free(good);
    free(dc);
    free(silent);
    free(clipped);
}

static void buffers_that_come_twice_are_exact_and_rare(void **state)
{
    (void)state;
    float *x = heard(THRUM_PRACTICE_LOST, N);
    int places = 0;
    for (int i = 80; i + 80 <= N; i++) /* 10 ms */
        places += memcmp(x + i, x + i - 80, 80 * sizeof *x) == 0;
    assert_int_equal(places, 7); /* at 0, 0.9, ... 5.4 s */
    free(x);
}

static void a_level_control_brings_quiet_and_loud_together(void **state)
{
    (void)state;
    float *good = heard(THRUM_PRACTICE_NO_FAULT, N), *riding = heard(THRUM_PRACTICE_GAIN_RIDING, N);
    double gain = power(riding, N / 2, N) / power(good, N / 2, N);
    assert_between(10.0 * log10(gain), 10.0, 30.0); /* towards -12 dBFS from -42, ratio 4: 22.5 dB */
    free(good);
    free(riding);
}

static void suppressed_beeps_fade_and_a_gate_leaves_zeros(void **state)
{
    (void)state;
    float *good = heard(THRUM_PRACTICE_NO_FAULT, N), *faded = heard(THRUM_PRACTICE_SUPPRESSED, N),
          *gated = heard(THRUM_PRACTICE_GATED, N);
    double fall = power(faded, N / 2, N) / power(good, N / 2, N);
    int zeros = 0;
    assert_between(10.0 * log10(fall), -12.0, -2.0);
    for (int i = N / 2; i < N; i++)
        zeros += fabsf(gated[i]) <= 0.0f;
    assert_between(zeros, 0.3 * N / 2, 0.5 * N / 2); /* the pauses, less what the gate holds */
    free(good);
    free(faded);
    free(gated);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_fault_has_a_name_and_is_found_by_it),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(constants_zeros_and_cut_tops_are_that),
        cmocka_unit_test(buffers_that_come_twice_are_exact_and_rare),
        cmocka_unit_test(a_level_control_brings_quiet_and_loud_together),
        cmocka_unit_test(suppressed_beeps_fade_and_a_gate_leaves_zeros),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
