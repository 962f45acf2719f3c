/* How much longer a touch is to be held. */
#include "check.h"

#include <string.h>

#include "round/hold.h"

/* A touch of t seconds of one sender that beeps twice a second: its interval is w dB wide about dbfs. */
static struct thrum_reading touched(double t, double dbfs, double w)
{
    struct thrum_reading reading = {.rate_hz = 8000, .frames = (uint64_t)(8000 * t), .n_senders = 1};
    reading.strength[0] = (struct thrum_strength){
        .heard = true, .dbfs = dbfs, .low_db = dbfs - w / 2, .high_db = dbfs + w / 2, .beeps = (int)(2 * t)};
    return reading;
}

static struct thrum_reading unheard(double t, double below_db)
{
    struct thrum_reading reading = touched(t, THRUM_FLOOR_DBFS, 0);
    reading.strength[0].heard = false;
    reading.strength[0].low_db = THRUM_FLOOR_DBFS;
    reading.strength[0].high_db = below_db;
    return reading;
}

static struct hold judged(struct thrum_reading reading, double best_low_db)
{
    double cycle_s = 0.5;
    return hold_judge(&reading, &cycle_s, &best_low_db);
}

/* The variance of a mean of independent parts falls as 1 / t: twice the wanted width takes four times the time. */
static void an_interval_twice_too_wide_takes_four_times_as_long(void **state)
{
    (void)state;
    struct hold hold = judged(touched(2.0, -50, 2 * HOLD_NARROW_DB), THRUM_FLOOR_DBFS);
    assert_int_equal(hold.state, THRUM_HOLD_ON);
    assert_close(hold.left_s, 3 * 2.0, 1e-9);
    hold = judged(touched(3.0, -50, 1.2 * HOLD_NARROW_DB), THRUM_FLOOR_DBFS);
    assert_close(hold.left_s, 3.0 * (1.44 - 1.0), 1e-9);
}

static void a_narrow_interval_is_enough_but_not_before_the_hand_shows(void **state)
{
    (void)state;
    struct hold hold = judged(touched(1.5, -50, 0.1), THRUM_FLOOR_DBFS);
    assert_int_equal(hold.state, THRUM_HOLD_ON);
    assert_close(hold.left_s, 0.5, 1e-9);
    assert_int_equal(judged(touched(2.0, -50, HOLD_NARROW_DB), THRUM_FLOOR_DBFS).state, THRUM_HOLD_NARROW);
}

static void what_can_never_win_need_not_be_held(void **state)
{
    (void)state;
    assert_int_equal(judged(touched(2.0, -60, 4), -50).state, THRUM_HOLD_WEAKER);
    assert_int_equal(judged(unheard(2.0, -60), -50).state, THRUM_HOLD_WEAKER);
    assert_int_equal(judged(touched(2.0, -60, 4), -53).state, THRUM_HOLD_ON); /* 5 dB: it might */
    assert_int_equal(judged(unheard(2.0, -60), THRUM_FLOOR_DBFS).state, THRUM_HOLD_ON);
}

static void waiting_ends_where_it_would_not_help(void **state)
{
    (void)state;
    assert_close(judged(unheard(2.5, -60), THRUM_FLOOR_DBFS).left_s, 1.5, 1e-9);
    assert_int_equal(judged(unheard(4.0, -60), THRUM_FLOOR_DBFS).state, THRUM_HOLD_HOPELESS);
    assert_int_equal(judged(touched(4.0, -90, 6), THRUM_FLOOR_DBFS).state, THRUM_HOLD_HOPELESS);
    assert_int_equal(judged(touched(4.0, -90, 2), THRUM_FLOOR_DBFS).state, THRUM_HOLD_ON);
    assert_int_equal(judged(touched(10.0, -90, 1.6), THRUM_FLOOR_DBFS).state, THRUM_HOLD_HOPELESS);
    /* a touch is never to be held for longer than ten seconds in all */
    assert_between(judged(touched(3.9, -90, 20), THRUM_FLOOR_DBFS).left_s, 0.1, 6.1 + 1e-9);
}

static void a_slow_cadence_takes_its_time(void **state)
{
    (void)state;
    double cycle_s = 2.0, best = THRUM_FLOOR_DBFS;
    struct thrum_reading reading = unheard(5.0, -60);
    struct hold hold = hold_judge(&reading, &cycle_s, &best);
    assert_int_equal(hold.state, THRUM_HOLD_ON);
    assert_close(hold.left_s, 1.0, 1e-9); /* three cycles */
}

static void the_sender_that_needs_longest_decides(void **state)
{
    (void)state;
    double cycle_s[2] = {0.5, 0.5}, best[2] = {THRUM_FLOOR_DBFS, -30};
    struct thrum_reading reading = touched(2.0, -50, 1.0);
    reading.n_senders = 2;
    reading.strength[1] = touched(2.0, -50, 3.0).strength[0];
    assert_int_equal(hold_judge(&reading, cycle_s, best).state, THRUM_HOLD_NARROW); /* b is far weaker here */
    best[1] = THRUM_FLOOR_DBFS;
    assert_int_equal(hold_judge(&reading, cycle_s, best).state, THRUM_HOLD_ON);
}

static void nothing_known_yet_means_hold_on(void **state)
{
    (void)state;
    struct thrum_reading reading = {.n_senders = 1};
    struct hold hold = judged(reading, THRUM_FLOOR_DBFS);
    assert_int_equal(hold.state, THRUM_HOLD_ON);
    assert_close(hold.left_s, 2.0, 1e-9);
    reading.n_senders = 0;
    assert_int_equal(judged(reading, THRUM_FLOOR_DBFS).state, THRUM_HOLD_HOPELESS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_interval_twice_too_wide_takes_four_times_as_long),
        cmocka_unit_test(a_narrow_interval_is_enough_but_not_before_the_hand_shows),
        cmocka_unit_test(what_can_never_win_need_not_be_held),
        cmocka_unit_test(waiting_ends_where_it_would_not_help),
        cmocka_unit_test(a_slow_cadence_takes_its_time),
        cmocka_unit_test(the_sender_that_needs_longest_decides),
        cmocka_unit_test(nothing_known_yet_means_hold_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
