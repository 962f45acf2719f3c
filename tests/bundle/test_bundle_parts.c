/* The parts of choosing: tails against GSL, levels and trend from repeats, limits, odd rounds. */
#include "check.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>

#include "bundle/normal.h"
#include "bundle/placement.h"
#include "bundle/population.h"
#include "bundle/trend.h"
#include "signals.h"

static struct thrum_pick pick;

struct tail {
    double x, sd, scale;
};

static double tail_integrand(double e, void *p)
{
    const struct tail *t = p;
    return gsl_ran_gaussian_pdf(t->x - e, t->sd) * gsl_ran_exponential_pdf(e, t->scale);
}

static void the_table_agrees_with_the_c_library(void **state)
{
    (void)state;
    struct thrum_normal_table *table = malloc(sizeof *table);
    assert_non_null(table);
    thrum_normal_table_fill(table);
    for (int i = -7000; i <= 5000;
         i++) { /* in and beyond the table, at its steps and between: the C library's own */
        double z = 1e-3 * i + 1e-5;
        assert_close(thrum_normal_table_below(table, z) / thrum_normal_below(z), 1.0, 3e-9);
    }
    free(table);
}

static void tails_agree_with_numerical_convolution(void **state)
{
    (void)state;
    gsl_integration_workspace *space = gsl_integration_workspace_alloc(500);
    static const double sd[] = {0.2, 1.0, 3.0}, scale[] = {1.5, 6.0, 20.0};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            for (double z = -12.0; z <= 12.0; z += 1.5) {
                struct tail t = {z * sd[i], sd[i], scale[k]};
                gsl_function f = {tail_integrand, &t};
                double value, error, low = fmax(0.0, t.x - 14.0 * t.sd);
                gsl_integration_qag(&f, low, low + 30.0 * t.sd, 0.0, 1e-9, 500, GSL_INTEG_GAUSS61, space,
                                    &value, &error);
                double ours = thrum_tail_density(t.x, t.sd * t.sd, t.scale);
                assert_close(ours / value, 1.0, 0.003); /* Mills' ratio to two terms below -6 */
            }
    gsl_integration_workspace_free(space);
    assert_close(thrum_normal_below(1.96), gsl_cdf_ugaussian_P(1.96), 1e-15);
    assert_close(thrum_tail_above(-50.0, 1.0, 6.0), 1.0, 1e-12);
    assert_close(thrum_tail_above(30.0, 1.0, 6.0), exp(-5.0 + 0.5 / 36.0), 1e-6);
}

static double below_integrand(double z, void *p)
{
    (void)p;
    return gsl_cdf_ugaussian_P(z);
}

static void the_ramp_is_the_integral_of_the_normal_distribution(void **state)
{
    (void)state;
    gsl_integration_workspace *space = gsl_integration_workspace_alloc(500);
    gsl_function f = {below_integrand, NULL};
    for (double z = -5.0; z <= 8.0; z += 0.5) {
        double value, error;
        gsl_integration_qagil(&f, z, 1e-13, 1e-9, 500, space, &value, &error);
        assert_close(thrum_normal_ramp(z), value, 1e-11);
    }
    gsl_integration_workspace_free(space);
}

/* Densities of where a wire lies integrate to one, heard, and agree with the limit's chance, not heard. */
static void where_a_wire_lies_is_a_density(void **state)
{
    (void)state;
    for (double sd = 0.3; sd < 4.0; sd *= 3.0) {
        double sum = 0.0;
        for (double db = -140.0; db < 20.0; db += 0.02) {
            struct thrum_level heard = {.heard = true, .db = db, .variance = sd * sd};
            sum += 0.02 * thrum_level_loose(&heard, 0.0);
            if (fabs(db + 30.0) > 0.005)
                continue;
            struct thrum_level silent = {.heard = false, .db = db, .variance = sd * sd};
            assert_close(thrum_level_loose(&silent, 0.0), sum, 0.002);
        }
        assert_close(sum, 1.0, 0.005);
    }
}

/* A bundle whose wires lie far apart says nothing of the hand: it must not make the hand look clumsy, which would take the
 * certainty from a lead of 10 dB. */
static void a_wide_bundle_does_not_widen_the_hand(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    static const double db[13] = {-40.6, -51.0, -51.5, -52.7, -55.7, -57.1, -57.6,
                                  -59.0, -66.8, -70.2, -76.1, -76.1, -77.1};
    struct thrum_touch t[24];
    for (int i = 0; i < 24; i++)
        t[i] = (struct thrum_touch){.wire = i,
                                    .heard = i < 13,
                                    .dbfs = i < 13 ? db[i] : 0.0,
                                    .sd_db = 0.25,
                                    .high_db = -78.0 - 3.0 * (i - 12)};
    assert_int_equal(thrum_pick_compute(&config, 24, t, 24, &pick), THRUM_OK);
    assert_int_equal(pick.wire, 0);
    assert_true(pick.chance > 0.88);
    assert_true(pick.placement_db < 2.2);
}

static void the_lead_prior_is_a_density(void **state)
{
    (void)state;
    double sum = 0.0;
    for (double lead = 0.005; lead < 120.0; lead += 0.01)
        sum += 0.01 * thrum_lead_density(lead);
    assert_close(sum, 1.0, 0.02);
    double shares = 0.0, spreads = 0.0;
    for (int i = 0; i < THRUM_LOOSE_SHARES; i++)
        shares += thrum_loose_share[i].chance;
    for (int i = 0; i < THRUM_CLUSTER_SPREADS; i++)
        spreads += thrum_cluster_spread_db[i].chance;
    assert_close(shares, 1.0, 1e-12);
    assert_close(spreads, 1.0, 1e-12);
}

/* A sender that sags by 2 dB a minute, six wires touched three times over: found within 3 standard errors. */
static void a_sagging_sender_is_found_from_repeats(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(71001);
    int wire[18];
    double db[18], variance[18], minutes[18];
    for (int i = 0; i < 18; i++) {
        wire[i] = i % 6;
        minutes[i] = 0.2 * i;
        variance[i] = 0.01;
        db[i] = -40.0 - 3.0 * wire[i] - 2.0 * minutes[i] + 0.5 * rng_normal(&rng);
    }
    struct thrum_trend trend = thrum_trend_fit(18, wire, db, variance, minutes, 1.0, 6.0);
    assert_true(trend.revealed);
    assert_close(trend.db_per_min, -2.0, 3.0 * sqrt(trend.variance));
    assert_between(sqrt(trend.variance), 0.05, 0.5);
}

static void without_repeats_no_trend_is_claimed(void **state)
{
    (void)state;
    int wire[10];
    double db[10], variance[10] = {0}, minutes[10];
    for (int i = 0; i < 10; i++) {
        wire[i] = i;
        minutes[i] = 0.1 * i;
        db[i] = -40.0 - 5.0 * minutes[i]; /* neighbours in the bundle may lie like that */
    }
    struct thrum_trend trend = thrum_trend_fit(10, wire, db, variance, minutes, 1.0, 6.0);
    assert_false(trend.revealed);
    assert_true(trend.db_per_min >= 0.0 && trend.db_per_min <= 0.0);
    assert_true(trend.variance > 0.0);
}

/* The whole way: a wire touched first looks best because the sender sags; repeats put it right. */
static void an_order_effect_is_not_picked(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t[36];
    struct rng rng = rng_seeded(71002);
    for (int i = 0; i < 36; i++) {
        int wire = i % 12;
        double at_s = 15.0 * i;
        double db = -40.0 - (wire == 11 ? 0.0 : 4.0) - 1.5 * at_s / 60.0 + 0.4 * rng_normal(&rng);
        t[i] = (struct thrum_touch){.wire = wire, .heard = true, .dbfs = db, .sd_db = 0.1, .at_s = at_s};
    }
    assert_int_equal(thrum_pick_compute(&config, 12, t, 12, &pick),
                     THRUM_OK); /* one touch each: wire 0 reads most */
    assert_false(pick.outcome == THRUM_PICKED && pick.wire != 11);
    assert_int_equal(thrum_pick_compute(&config, 12, t, 36, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_PICKED);
    assert_int_equal(pick.wire, 11);
    assert_true(pick.notes & THRUM_NOTE_SAGGING);
    assert_close(pick.trend_db_per_min, -1.5, 0.4);
}

static void levels_are_weighted_means(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t[3] = {{.wire = 0, .heard = true, .dbfs = -40.0, .sd_db = 0.0},
                               {.wire = 0, .heard = true, .dbfs = -42.0, .sd_db = 0.0},
                               {.wire = 1, .heard = true, .dbfs = -50.0, .sd_db = 1.0}};
    static struct thrum_placement placement;
    static struct thrum_levels levels;
    thrum_placement_collect(&placement, &config, 2, t, 3);
    thrum_placement_levels(&placement, 1.0, &levels);
    assert_close(levels.mean_db[0], -41.0, 1e-9);
    assert_close(levels.variance[0], 0.5, 1e-9);
    assert_close(levels.variance[1], 2.0, 1e-9);
    /* the two repeats, 1 dB either side of their mean: ln of exp(-1) / sqrt(2), computed */
    assert_close(levels.ln_fit, -1.0 - 0.5 * log(2.0), 1e-9);
}

/* One wire is heard, the others not: with limits far below it is the one, with limits above it nothing is known. */
static void limits_count_as_limits(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t[8];
    for (int i = 0; i < 8; i++)
        t[i] = (struct thrum_touch){.wire = i, .high_db = -80.0, .at_s = 4.0 * i};
    t[5] = (struct thrum_touch){.wire = 5, .heard = true, .dbfs = -50.0, .sd_db = 0.2, .at_s = 20.0};
    assert_int_equal(thrum_pick_compute(&config, 8, t, 8, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_PICKED);
    assert_int_equal(pick.wire, 5);
    assert_close(pick.lead_db, 0.0, 1e-12); /* a single wire heard */
    for (int i = 0; i < 8; i++)
        t[i].high_db = -30.0;
    assert_int_equal(thrum_pick_compute(&config, 8, t, 8, &pick), THRUM_OK);
    assert_int_not_equal(pick.outcome, THRUM_PICKED);
}

static void one_wire_alone_is_not_picked(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t = {.wire = 0, .heard = true, .dbfs = -40.0, .sd_db = 0.1};
    assert_int_equal(thrum_pick_compute(&config, 1, &t, 1, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE); /* there is nothing to compare it with */
    assert_int_equal(pick.next_touch, -1);
    config.driven_for_sure = true;
    assert_int_equal(thrum_pick_compute(&config, 1, &t, 1, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_PICKED);
}

static void an_untouched_wire_holds_back_a_close_pick(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_touch t[6];
    for (int i = 0; i < 6; i++)
        t[i] = (struct thrum_touch){
            .wire = i, .heard = true, .dbfs = i == 2 ? -40.0 : -50.0 - i, .sd_db = 0.1, .at_s = 4.0 * i};
    assert_int_equal(thrum_pick_compute(&config, 12, t, 6, &pick), THRUM_OK);
    assert_int_equal(pick.outcome, THRUM_TOO_CLOSE);
    assert_true(pick.notes & THRUM_NOTE_UNTOUCHED);
    assert_int_equal(pick.next_touch, 6);
    double sum = 0.0;
    for (int i = 0; i < pick.n_ranked; i++)
        sum += pick.rank[i].chance;
    assert_between(sum, 0.9, 1.0 + 1e-9);
}

static void every_note_has_one_sentence(void **state)
{
    (void)state;
    for (int i = 0; i < THRUM_PICK_NOTES; i++)
        assert_non_null(thrum_pick_note_text((enum thrum_pick_note)(1 << i)));
    assert_null(thrum_pick_note_text((enum thrum_pick_note)(1 << THRUM_PICK_NOTES)));
    assert_null(thrum_pick_note_text((enum thrum_pick_note)3));
    assert_string_equal(thrum_outcome_name(THRUM_EVERYWHERE), "everywhere");
}

/* Numbers as far as they go: as many wires as fit, levels far apart, errors of nothing. The chances stay chances. */
static void the_largest_and_oddest_rounds_give_chances(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    static struct thrum_touch t[THRUM_MAX_READINGS];
    struct rng rng = rng_seeded(71004);
    for (int odd = 0; odd < 4; odd++) {
        for (int i = 0; i < THRUM_MAX_READINGS; i++) {
            t[i] = (struct thrum_touch){.wire = i % THRUM_MAX_WIRES, .heard = true, .at_s = 4.0 * i};
            t[i].dbfs = -300.0 + (t[i].wire == 77 ? 10.0 : 0.0) + (odd == 2 ? 0.0 : rng_uniform(&rng));
            if (odd == 1) /* spread over 90 dB, the repeats alike */
                t[i].dbfs += i < THRUM_MAX_WIRES ? 90.0 * rng_uniform(&rng) : 0.0;
            if (odd == 1 && i >= THRUM_MAX_WIRES)
                t[i].dbfs = t[i - THRUM_MAX_WIRES].dbfs + rng_uniform(&rng);
            t[i].sd_db = odd == 2 ? 0.0 : 0.3;
            t[i].heard = odd != 3 || i % 3 > 0;
            t[i].high_db = -250.0;
        }
        assert_int_equal(thrum_pick_compute(&config, THRUM_MAX_WIRES, t, THRUM_MAX_READINGS, &pick),
                         THRUM_OK);
        double sum = 0.0;
        for (int i = 0; i < pick.n_ranked; i++) {
            assert_between(pick.rank[i].chance, 0.0, 1.0);
            sum += pick.rank[i].chance;
        }
        assert_between(sum, 0.5, 1.0 + 1e-6);
        if (odd != 1)
            assert_int_equal(pick.rank[0].wire, 77);
    }
}

/* Halfway down a hole between two grids nothing may jump: the chance follows a reading smoothly. */
static void chances_follow_a_reading_smoothly(void **state)
{
    (void)state;
    struct thrum_pick_config config = thrum_pick_config_default();
    struct rng rng = rng_seeded(71003);
    struct thrum_touch t[12];
    for (int i = 0; i < 12; i++)
        t[i] = (struct thrum_touch){
            .wire = i, .heard = true, .dbfs = -44.0 + rng_normal(&rng), .sd_db = 0.1, .at_s = 4.0 * i};
    double before = 0.0;
    for (int step = 0; step <= 120; step++) {
        t[4].dbfs = -43.0 + 0.05 * step;
        assert_int_equal(thrum_pick_compute(&config, 12, t, 12, &pick), THRUM_OK);
        double chance = 0.0;
        for (int i = 0; i < 12; i++)
            chance = pick.rank[i].wire == 4 ? pick.rank[i].chance : chance;
        if (step > 0)
            assert_between(chance - before, -0.002, 0.04);
        before = chance;
    }
    assert_true(before > 0.98);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_table_agrees_with_the_c_library),
        cmocka_unit_test(tails_agree_with_numerical_convolution),
        cmocka_unit_test(the_ramp_is_the_integral_of_the_normal_distribution),
        cmocka_unit_test(where_a_wire_lies_is_a_density),
        cmocka_unit_test(a_wide_bundle_does_not_widen_the_hand),
        cmocka_unit_test(the_lead_prior_is_a_density),
        cmocka_unit_test(a_sagging_sender_is_found_from_repeats),
        cmocka_unit_test(without_repeats_no_trend_is_claimed),
        cmocka_unit_test(an_order_effect_is_not_picked),
        cmocka_unit_test(levels_are_weighted_means),
        cmocka_unit_test(limits_count_as_limits),
        cmocka_unit_test(one_wire_alone_is_not_picked),
        cmocka_unit_test(an_untouched_wire_holds_back_a_close_pick),
        cmocka_unit_test(the_largest_and_oddest_rounds_give_chances),
        cmocka_unit_test(every_note_has_one_sentence),
        cmocka_unit_test(chances_follow_a_reading_smoothly),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
