/* The pick: four outcomes, chances that follow the touches, and what must not change it. */
#include "check.h"

#include <string.h>

#include "signals.h"
#include "thrum/pick.h"
#include "thrum/reading.h"

enum { MOST = 40 };

struct round_of {
    int n_wires, n;
    struct thrum_touch touch[4 * MOST];
};

static struct thrum_pick pick; /* large: kept off the stack */

static void touch(struct round_of *r, int wire, double dbfs)
{
    r->touch[r->n] =
        (struct thrum_touch){.wire = wire, .heard = true, .dbfs = dbfs, .sd_db = 0.1, .at_s = 4.0 * r->n};
    r->n++;
}

/* One touch of every wire: `driven` at -45 dBFS, the others `lead` below it, all with this placement spread. */
static struct round_of once_each(struct rng *rng, int n_wires, int driven, double lead_db,
                                 double placement_db)
{
    struct round_of r = {.n_wires = n_wires};
    for (int i = 0; i < n_wires; i++)
        touch(&r, i, -45.0 - (i == driven ? 0.0 : lead_db) + placement_db * rng_normal(rng));
    return r;
}

static void compute(const struct round_of *r)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    assert_int_equal(thrum_pick_compute(&config, r->n_wires, r->touch, r->n, &pick), THRUM_OK);
}

static void a_clear_lead_is_picked_at_once(void **state)
{
    (void)state;
    int picked = 0;
    for (uint64_t seed = 1; seed <= 100; seed++) {
        struct rng rng = rng_seeded(seed);
        struct round_of r = once_each(&rng, 12, 3, 8.0, 0.7);
        compute(&r);
        if (pick.outcome == THRUM_PICKED) {
            assert_int_equal(pick.wire, 3);
            assert_true(pick.chance >= 0.99);
            picked++;
        }
    }
    assert_true(picked >= 98);
}

static void equal_tone_on_all_wires_is_everywhere(void **state)
{
    (void)state;
    int everywhere = 0;
    for (uint64_t seed = 1; seed <= 50; seed++) {
        struct rng rng = rng_seeded(seed);
        struct round_of r = once_each(&rng, 24, 3, 0.0, 0.5);
        compute(&r);
        assert_int_not_equal(pick.outcome, THRUM_PICKED);
        everywhere += pick.outcome == THRUM_EVERYWHERE;
    }
    assert_true(everywhere >= 48);
    assert_true(pick.notes & THRUM_NOTE_LIFT_COMMON);
}

static void nothing_heard_is_no_tone(void **state)
{
    (void)state;
    struct round_of r = {.n_wires = 30};
    for (int i = 0; i < 30; i++)
        r.touch[r.n++] = (struct thrum_touch){.wire = i, .high_db = -80.0, .at_s = 4.0 * i};
    compute(&r);
    assert_int_equal(pick.outcome, THRUM_NO_TONE);
    assert_int_equal(pick.wire, -1);
    assert_true(pick.notes & THRUM_NOTE_CHECK_SENDER);
}

static void two_equal_wires_are_too_close_and_both_contend(void **state)
{
    (void)state;
    int picked = 0;
    for (uint64_t seed = 1; seed <= 100; seed++) {
        struct rng rng = rng_seeded(seed);
        struct round_of r = once_each(&rng, 20, 3, 12.0, 1.0);
        r.touch[7].dbfs = -45.1 + rng_normal(&rng);
        compute(&r);
        picked += pick.outcome == THRUM_PICKED;
        if (pick.outcome == THRUM_TOO_CLOSE) {
            assert_true(pick.n_contenders >= 2);
            assert_true(pick.next_touch >= 0);
        }
    }
    assert_true(picked <= 5);
}

/* Bechhofer 1954: of 30 wires touched once, lead 3 dB over the rest, sigma 1 dB, the strongest reading is the right one
 * in 0.809 of rounds (computed: integral of Phi(x + h)^29 phi(x), h = 3). Our ranking must do as well. */
static void the_first_of_the_ranking_is_right_as_often_as_can_be(void **state)
{
    (void)state;
    int right = 0, rounds = 400;
    for (int i = 0; i < rounds; i++) {
        struct rng rng = rng_seeded(9000 + (uint64_t)i);
        struct round_of r = once_each(&rng, 30, 3, 3.0, 1.0);
        compute(&r);
        right += pick.rank[0].wire == 3;
    }
    assert_close((double)right / rounds, 0.809, 3.0 * sqrt(0.809 * 0.191 / rounds));
}

static void a_gain_for_all_changes_no_chance(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(5);
    struct round_of r = once_each(&rng, 12, 3, 4.0, 1.0);
    compute(&r);
    double chance = pick.rank[0].chance, lead = pick.lead_db;
    for (int i = 0; i < r.n; i++)
        r.touch[i].dbfs += 10.0;
    compute(&r);
    assert_close(pick.rank[0].chance, chance, 1e-6);
    assert_close(pick.lead_db, lead, 1e-9);
}

static void numbering_does_not_matter(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(6);
    struct round_of r = once_each(&rng, 12, 3, 5.0, 1.0), turned;
    compute(&r);
    double chance = pick.rank[0].chance;
    int first = pick.rank[0].wire;
    turned = r;
    for (int i = 0; i < r.n; i++)
        turned.touch[i].wire = (r.touch[i].wire + 5) % 12;
    compute(&turned);
    assert_int_equal(pick.rank[0].wire, (first + 5) % 12);
    assert_close(pick.rank[0].chance, chance, 1e-9);
}

static void touching_again_settles_a_close_race(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(7);
    struct round_of r = once_each(&rng, 12, 3, 2.5, 0.7);
    int touches = 0;
    compute(&r);
    while (pick.outcome != THRUM_PICKED && touches < 40) {
        int wire = pick.next_touch >= 0 ? pick.next_touch : 3;
        touch(&r, wire, -45.0 - (wire == 3 ? 0.0 : 2.5) + 0.7 * rng_normal(&rng));
        touches++;
        compute(&r);
    }
    assert_int_equal(pick.outcome, THRUM_PICKED);
    assert_int_equal(pick.wire, 3);
}

static void excluded_wires_are_never_picked(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(8);
    struct round_of r = once_each(&rng, 12, 3, 8.0, 0.5);
    struct thrum_pick_config config = thrum_pick_config_default();
    config.excluded[3] = true;
    assert_int_equal(thrum_pick_compute(&config, 12, r.touch, r.n, &pick), THRUM_OK);
    assert_int_not_equal(pick.wire, 3);
    for (int i = 0; i < pick.n_ranked; i++)
        if (pick.rank[i].wire == 3)
            assert_true(pick.rank[i].chance <= 0.0);
}

static void an_input_that_rides_gain_is_named_beside_the_pick(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(9);
    struct round_of r = once_each(&rng, 12, 3, 12.0, 0.5);
    r.touch[2].faults = THRUM_FAULT_GAIN_RIDING;
    compute(&r);
    assert_true(pick.notes & THRUM_NOTE_UNTRUSTED);
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t = {.wire = 0, .heard = true, .dbfs = (double)NAN, .sd_db = 0.1};
    assert_int_equal(thrum_pick_compute(&config, 3, &t, 1, &pick), THRUM_ERR_ARG);
    t.dbfs = -40.0;
    t.wire = 3;
    assert_int_equal(thrum_pick_compute(&config, 3, &t, 1, &pick), THRUM_ERR_ARG);
    t.wire = 0;
    assert_int_equal(thrum_pick_compute(&config, 0, &t, 1, &pick), THRUM_ERR_ARG);
    config.sure = 0.2;
    assert_int_equal(thrum_pick_compute(&config, 3, &t, 1, &pick), THRUM_ERR_ARG);
}

static void no_touch_leaves_every_wire_a_contender(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    assert_int_equal(thrum_pick_compute(&config, 5, NULL, 0, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE);
    assert_int_equal(pick.n_contenders, 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clear_lead_is_picked_at_once),
        cmocka_unit_test(equal_tone_on_all_wires_is_everywhere),
        cmocka_unit_test(nothing_heard_is_no_tone),
        cmocka_unit_test(two_equal_wires_are_too_close_and_both_contend),
        cmocka_unit_test(the_first_of_the_ranking_is_right_as_often_as_can_be),
        cmocka_unit_test(a_gain_for_all_changes_no_chance),
        cmocka_unit_test(numbering_does_not_matter),
        cmocka_unit_test(touching_again_settles_a_close_race),
        cmocka_unit_test(excluded_wires_are_never_picked),
        cmocka_unit_test(an_input_that_rides_gain_is_named_beside_the_pick),
        cmocka_unit_test(nonsense_is_refused),
        cmocka_unit_test(no_touch_leaves_every_wire_a_contender),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
