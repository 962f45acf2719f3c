/* What many touches tell together of a level control that no one of them proves. */
#include "check.h"

#include <string.h>

#include "round/riding.h"
#include "signals.h"

enum { TOUCHES = 24 };

/* Readings as the listener gives them: the truth, and an error of the size they state. */
static void draw(struct rng *rng, double true_db, struct thrum_reading *readings)
{
    memset(readings, 0, TOUCHES * sizeof *readings);
    for (int i = 0; i < TOUCHES; i++) {
        readings[i].breath_sd_db = rng_between(rng, 0.12, 0.3);
        readings[i].breath_db = true_db + readings[i].breath_sd_db * rng_normal(rng);
    }
}

static int marked(const struct thrum_reading *readings)
{
    int n = 0;
    for (int i = 0; i < TOUCHES; i++)
        n += (readings[i].faults & THRUM_FAULT_GAIN_RIDING) != 0;
    return n;
}

static void slow_riding_shows_in_the_sum(void **state)
{
    (void)state;
    struct thrum_reading readings[TOUCHES];
    for (uint64_t seed = 0; seed < 50; seed++) {
        struct rng rng = rng_seeded(seed);
        draw(&rng, 0.5, readings);
        thrum_riding_mark(readings, TOUCHES);
        assert_int_equal(marked(readings), TOUCHES);
    }
}

static void honest_rounds_are_left_alone(void **state)
{
    (void)state;
    struct thrum_reading readings[TOUCHES];
    for (uint64_t seed = 0; seed < 2000; seed++) {
        struct rng rng = rng_seeded(100 + seed);
        draw(&rng, rng_between(&rng, -3.0, 0.0), readings); /* a sender may bring hiss along */
        thrum_riding_mark(readings, TOUCHES);
        assert_int_equal(marked(readings), 0);
    }
}

static void readings_that_could_not_tell_take_no_part(void **state)
{
    (void)state;
    struct thrum_reading readings[TOUCHES];
    struct rng rng = rng_seeded(9000);
    draw(&rng, 2.0, readings);
    for (int i = 3; i < TOUCHES; i++)
        readings[i].breath_sd_db = 0.0;
    thrum_riding_mark(readings, 2); /* two are too few */
    assert_int_equal(marked(readings), 0);
    thrum_riding_mark(readings, TOUCHES);
    assert_int_equal(marked(readings), 3);
    thrum_riding_mark(NULL, 0);
}

/* The driven wire alone may hum more while its sender is silent: the others outvote it. */
static void one_odd_wire_is_outvoted(void **state)
{
    (void)state;
    struct thrum_reading readings[TOUCHES];
    struct rng rng = rng_seeded(9001);
    draw(&rng, 0.0, readings);
    readings[7].breath_db = 2.0;
    thrum_riding_mark(readings, TOUCHES);
    assert_int_equal(marked(readings), 0);
    for (int i = 0; i < TOUCHES; i++) /* nor do nine that hum, when the others do the opposite */
        readings[i].breath_db = i < 9 ? 2.0 : -0.2;
    thrum_riding_mark(readings, TOUCHES);
    assert_int_equal(marked(readings), 0);
}

/* Hum that wobbles in time with the beeps of one touch and against those of the next: each is sure, together they are not. */
static void touches_that_disagree_are_no_riding(void **state)
{
    (void)state;
    struct thrum_reading readings[TOUCHES];
    int rounds = 0;
    for (uint64_t seed = 0; seed < 1000; seed++) {
        struct rng rng = rng_seeded(20000 + seed);
        memset(readings, 0, sizeof readings);
        for (int i = 0; i < TOUCHES; i++) {
            readings[i].breath_sd_db = rng_between(&rng, 0.05, 0.2);
            readings[i].breath_db = 0.6 * rng_normal(&rng);
        }
        thrum_riding_mark(readings, TOUCHES);
        rounds += marked(readings) > 0;
    }
    assert_in_range(rounds, 0, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slow_riding_shows_in_the_sum),
        cmocka_unit_test(honest_rounds_are_left_alone),
        cmocka_unit_test(readings_that_could_not_tell_take_no_part),
        cmocka_unit_test(one_odd_wire_is_outvoted),
        cmocka_unit_test(touches_that_disagree_are_no_riding),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
