/* The search by halves: what touches of groups tell, and that the picks it leads to are as honest as those without. */
#include "check.h"

#include <math.h>
#include <string.h>

#include "bundle/halves.h"
#include "halving.h"
#include "thrum/reading.h"

static struct thrum_group_touch heard(int first, int last, double dbfs)
{
    return (struct thrum_group_touch){
        .first = first, .last = last, .heard = true, .dbfs = dbfs, .sd_db = 0.2};
}

static void even_prior(double *prior, int n)
{
    for (int i = 0; i < n; i++)
        prior[i] = 1.0 / n;
}

static void without_groups_nothing_changes(void **state)
{
    (void)state;
    double prior[8];
    struct thrum_halves halves;
    even_prior(prior, 8);
    thrum_halves_weigh(prior, 8, NULL, 0, &halves);
    for (int i = 0; i < 8; i++)
        assert_close(halves.wire[i], 1.0, 0.0);
    assert_close(halves.everywhere, 1.0, 0.0);
    assert_close(halves.drop[0] + halves.drop[1] + halves.drop[2], 1.0, 1e-12);
}

static void halves_that_read_alike_favour_none(void **state)
{
    (void)state;
    double prior[8];
    struct thrum_halves halves;
    struct thrum_group_touch groups[] = {heard(0, 3, -40.0), heard(4, 7, -40.0)};
    even_prior(prior, 8);
    thrum_halves_weigh(prior, 8, groups, 2, &halves);
    for (int i = 1; i < 8; i++)
        assert_close(halves.wire[i], halves.wire[0], 1e-9);
    assert_true(halves.drop[0] > 0.5);
    assert_true(halves.everywhere >= halves.wire[0]);
}

static void the_louder_half_holds_the_wire_but_not_for_sure(void **state)
{
    (void)state;
    double prior[8];
    struct thrum_halves halves;
    struct thrum_group_touch groups[] = {heard(0, 3, -70.0), heard(4, 7, -40.0)};
    even_prior(prior, 8);
    thrum_halves_weigh(prior, 8, groups, 2, &halves);
    assert_true(halves.wire[5] > 10.0 * halves.wire[1]);
    assert_true(halves.wire[1] > 1e-4 * halves.wire[5]); /* a wrong answer is thought of */
    assert_true(halves.drop[2] > halves.drop[0]);
    assert_true(halves.everywhere < 0.1 * halves.wire[5]);
    groups[0] = (struct thrum_group_touch){.first = 0, .last = 3, .high_db = -75.0}; /* not heard at all */
    thrum_halves_weigh(prior, 8, groups, 2, &halves);
    assert_true(halves.wire[5] > 10.0 * halves.wire[1]);
}

/* An answer that is wrong in 3 of 100 tells at most the capacity of a binary symmetric channel, ln 2 less the entropy of the
 * error (Shannon, A Mathematical Theory of Communication, 1948); nothing about what is certain beforehand. */
static void an_answer_tells_what_a_noisy_channel_can(void **state)
{
    (void)state;
    static const double far[THRUM_DROPS] = {0.0, 0.0, 1.0}, alike[THRUM_DROPS] = {1.0, 0.0, 0.0};
    double capacity = log(2.0) + 0.03 * log(0.03) + 0.97 * log(0.97);
    assert_between(thrum_halves_gain(0.5, far, true), 0.75 * capacity, capacity + 0.01);
    assert_close(thrum_halves_gain(0.0, far, true), 0.0, 1e-9);
    assert_close(thrum_halves_gain(1.0, far, true), 0.0, 1e-9);
    assert_true(thrum_halves_gain(0.5, alike, true) < 0.1);
    assert_true(thrum_halves_gain(0.5, far, true) > thrum_halves_gain(0.1, far, true));
}

/* --- The next touch ------------------------------------------------------------------------------------------- */

/* Most of 24 wires left out, as when the chart is nearly full: the halves are those of the others. */
static void wires_that_are_left_out_are_in_no_half(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    static struct thrum_pick pick;
    for (int i = 0; i < 24; i++)
        config.excluded[i] = i < 12 || i == 15 || i == 23;
    struct thrum_group_touch groups[] = {heard(12, 17, -40.0), heard(18, 22, -70.0)};
    for (int n = 0; n < 2; n++) {
        assert_int_equal(thrum_pick_compute(&config, 24, NULL, 0, &pick), THRUM_OK);
        thrum_halves_join(&config, groups, n, &pick);
        assert_int_equal(pick.next_touch, groups[n].first);
        assert_int_equal(pick.next_last, groups[n].last);
    }
    thrum_pick_compute(&config, 24, NULL, 0, &pick);
    thrum_halves_join(&config, groups, 2, &pick);
    assert_false(config.excluded[pick.next_touch] || config.excluded[pick.next_last]);
    for (int left = 9; left <= 10; left++) { /* nine are too few to be halved */
        for (int i = 0; i < 24; i++)
            config.excluded[i] = i < 24 - left;
        thrum_pick_compute(&config, 24, NULL, 0, &pick);
        thrum_halves_join(&config, NULL, 0, &pick);
        assert_int_equal(pick.next_touch, 24 - left);
        assert_int_equal(pick.next_last > pick.next_touch, left == 10);
    }
}

static void a_pick_from_groups_that_are_not_to_be_trusted_says_so(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    static struct thrum_pick pick;
    struct thrum_group_touch groups[] = {heard(0, 5, -40.0), heard(6, 11, -80.0)};
    struct thrum_touch single = {.wire = 2, .heard = true, .dbfs = -36.0, .sd_db = 0.2};
    for (int bad = 0; bad < 2; bad++) {
        groups[1].faults = bad ? THRUM_FAULT_GAIN_RIDING : 0u;
        assert_int_equal(thrum_pick_compute(&config, 12, &single, 1, &pick), THRUM_OK);
        thrum_halves_join(&config, groups, 2, &pick);
        assert_int_equal((pick.notes & THRUM_NOTE_UNTRUSTED) != 0, bad);
    }
}

/* All wires that may be it are silent, the group that sounded holds one that was left out since: it was that one. */
static void a_group_with_an_excluded_wire_does_not_speak_for_the_others(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    static struct thrum_pick pick;
    struct thrum_group_touch groups[] = {heard(0, 2, -40.0), {.first = 3, .last = 5, .high_db = -90.0}};
    struct thrum_touch silent[5];
    for (int i = 0; i < 5; i++)
        silent[i] = (struct thrum_touch){.wire = i + 1, .high_db = -90.0, .at_s = i};
    config.excluded[0] = true;
    assert_int_equal(thrum_pick_compute(&config, 6, silent, 5, &pick), THRUM_OK);
    thrum_halves_join(&config, groups, 2, &pick);
    assert_int_equal(pick.outcome, THRUM_NO_TONE);
    assert_true(pick.notes & THRUM_NOTE_LEFT_OUT);
    assert_false(pick.notes & THRUM_NOTE_CHECK_SENDER);
    config.excluded[0] = false; /* then it may be it, and is to be touched */
    assert_int_equal(thrum_pick_compute(&config, 6, silent, 5, &pick), THRUM_OK);
    thrum_halves_join(&config, groups, 2, &pick);
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE);
    assert_false(pick.notes & THRUM_NOTE_CHECK_SENDER);
    assert_int_equal(pick.next_touch, 0);
}

static struct thrum_pick pick_after(int n_wires, const struct thrum_group_touch *groups, int n_groups)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    static struct thrum_pick pick;
    assert_int_equal(thrum_pick_compute(&config, n_wires, NULL, 0, &pick), THRUM_OK);
    thrum_halves_join(&config, groups, n_groups, &pick);
    return pick;
}

static void both_halves_are_asked_for_first(void **state)
{
    (void)state;
    struct thrum_group_touch groups[] = {heard(0, 11, -40.0), heard(12, 23, -70.0)};
    struct thrum_pick pick = pick_after(24, NULL, 0);
    assert_int_equal(pick.next_touch, 0);
    assert_int_equal(pick.next_last, 11);
    pick = pick_after(24, groups, 1);
    assert_int_equal(pick.next_touch, 12);
    assert_int_equal(pick.next_last, 23);
    pick = pick_after(24, groups, 2); /* then about half of the louder one, with whatever of the other */
    int held = 0;
    for (int i = pick.next_touch; i <= pick.next_last; i++)
        held += i <= 11;
    assert_between(held, 5, 7);
    assert_true(pick.next_last - pick.next_touch < 12);
}

static void no_wire_is_picked_that_was_not_touched_by_itself(void **state)
{
    (void)state;
    struct thrum_group_touch groups[12];
    for (int i = 0; i < 12; i++)
        groups[i] = i % 2 ? heard(2, 7, -75.0) : heard(0, 1, -40.0);
    for (int i = 6; i < 12; i++)
        groups[i] = i % 2 ? heard(1, 4, -75.0) : heard(0, 3, -40.0);
    struct thrum_pick pick = pick_after(8, groups, 12);
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE);
    assert_int_equal(pick.rank[0].wire, 0);
}

static void two_silent_halves_are_no_tone(void **state)
{
    (void)state;
    struct thrum_group_touch groups[] = {{.first = 0, .last = 3, .high_db = -80.0},
                                         {.first = 4, .last = 7, .high_db = -80.0}};
    struct thrum_pick pick = pick_after(8, groups, 2);
    assert_int_equal(pick.outcome, THRUM_NO_TONE);
    assert_true(pick.notes & THRUM_NOTE_CHECK_SENDER);
    pick = pick_after(8, groups, 1); /* half of them is not all */
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE);
}

/* --- Whole rounds --------------------------------------------------------------------------------------------- */

static double mean_touches(double lead_db, bool halves, int rounds, uint64_t seed)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct group_hand hand = {0.02};
    double sum = 0.0;
    for (int i = 0; i < rounds; i++) {
        struct rng rng = rng_seeded(seed + (uint64_t)i);
        struct world world = world_equal(&rng, 20, lead_db, 1.0);
        struct ending end =
            halves ? play_halves(&rng, &world, &hand, &config, 100) : play_on(&rng, &world, &config, 100);
        assert_int_equal(end.outcome, THRUM_PICKED);
        sum += end.touches;
    }
    return sum / rounds;
}

static void far_bundles_need_half_the_touches_and_alike_ones_two_more(void **state)
{
    (void)state;
    double far = mean_touches(30.0, true, 15, 5100), far_alone = mean_touches(30.0, false, 15, 5100);
    double alike = mean_touches(3.0, true, 15, 5200), alike_alone = mean_touches(3.0, false, 15, 5200);
    assert_true(far < 0.6 * far_alone);
    assert_true(alike < alike_alone + 4.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_groups_nothing_changes),
        cmocka_unit_test(halves_that_read_alike_favour_none),
        cmocka_unit_test(the_louder_half_holds_the_wire_but_not_for_sure),
        cmocka_unit_test(an_answer_tells_what_a_noisy_channel_can),
        cmocka_unit_test(both_halves_are_asked_for_first),
        cmocka_unit_test(wires_that_are_left_out_are_in_no_half),
        cmocka_unit_test(a_pick_from_groups_that_are_not_to_be_trusted_says_so),
        cmocka_unit_test(a_group_with_an_excluded_wire_does_not_speak_for_the_others),
        cmocka_unit_test(no_wire_is_picked_that_was_not_touched_by_itself),
        cmocka_unit_test(two_silent_halves_are_no_tone),
        cmocka_unit_test(far_bundles_need_half_the_touches_and_alike_ones_two_more),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
