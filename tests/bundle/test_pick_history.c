/* What earlier rounds say of the placement spread: how it is summed up, and what it does to a pick. */
#include "check.h"

#include <math.h>

#include "rounds.h"
#include "thrum/pick.h"

static struct thrum_pick pick; /* large: kept off the stack */
static struct thrum_touch touches[ROUND_TOUCHES];

static struct thrum_pick_config with_history(double spread_db, double repeats)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_spread earlier = {spread_db * spread_db * repeats, repeats};
    assert_int_equal(thrum_pick_config_learn(&config, earlier), THRUM_OK);
    return config;
}

static void each_wire(struct rng *rng, const struct world *world, const struct thrum_pick_config *config,
                      int times)
{
    int n = 0;
    for (int t = 0; t < times; t++)
        for (int i = 0; i < world->n_wires; i++, n++)
            touches[n] = world_touch(rng, world, i, n);
    assert_int_equal(thrum_pick_compute(config, world->n_wires, touches, n, &pick), THRUM_OK);
}

/* The weighted mean of two variances, as for scaled inverse chi-squares; bounded, and nothing from nothing. */
static void a_history_moves_the_starting_value(void **state)
{
    (void)state;
    struct thrum_pick_config config = with_history(0.5, 9.0), many = with_history(0.5, 1e6);
    assert_close(config.placement_db, sqrt((3.0 * 1.44 + 9.0 * 0.25) / 12.0), 1e-12);
    assert_close(config.placement_weight, 12.0, 1e-12);
    assert_close(many.placement_weight, 3.0 + THRUM_SPREAD_REPEATS, 1e-12);
    config = with_history(3.0, 0.0);
    assert_close(config.placement_db, 1.2, 0.0);
    assert_int_equal(thrum_pick_config_learn(&config, (struct thrum_spread){-5.0, 2.0}), THRUM_OK);
    assert_true(config.placement_db > 0.0);
    double before = config.placement_db;
    static const double bad[][2] = {{1.0, -1.0}, {(double)NAN, 1.0}, {1.0, (double)INFINITY}};
    for (int i = 0; i < 3; i++)
        assert_int_equal(thrum_pick_config_learn(&config, (struct thrum_spread){bad[i][0], bad[i][1]}),
                         THRUM_ERR_ARG);
    assert_close(config.placement_db, before, 0.0);
}

static void the_spread_of_rounds_played_to_their_end_is_found(void **state)
{
    (void)state;
    static const double truth[] = {0.7, 2.0};
    struct thrum_pick_config config = thrum_pick_config_default();
    for (int k = 0; k < 2; k++) {
        struct rng rng = rng_seeded(5301);
        struct thrum_spread sum = {0.0, 0.0};
        for (int r = 0; r < 6; r++) {
            struct world world = world_equal(&rng, 10, 3.0, truth[k]);
            each_wire(&rng, &world, &config, 5);
            sum.squares_db2 += pick.spread.squares_db2;
            sum.repeats += pick.spread.repeats;
        }
        assert_close(sum.repeats, 6.0 * 40.0, 1e-9);
        /* 240 repeats give a spread to 1 / sqrt(480), 4.6 %: three of these; the reading error is taken out */
        assert_close(sqrt(sum.squares_db2 / sum.repeats) / truth[k], 1.0, 0.14);
    }
    struct rng rng = rng_seeded(5302);
    struct world world = world_equal(&rng, 10, 3.0, 1.0);
    each_wire(&rng, &world, &config, 1);
    assert_close(pick.spread.repeats, 0.0, 0.0);
    assert_close(pick.spread.squares_db2, 0.0, 0.0);
}

/* Mean ln of the chance given to the wire that is driven, a proper score (Good, Rational Decisions, 1952, from memory): the nearer
 * 0 the better. Leads as the model expects them: a gamma of shape 3. */
static double score(double truth_db, const struct thrum_pick_config *config, int rounds)
{
    struct rng rng = rng_seeded(5303);
    double sum = 0.0;
    for (int r = 0; r < rounds; r++) {
        double lead_db = -3.0 * log(rng_uniform(&rng) * rng_uniform(&rng) * rng_uniform(&rng));
        struct world world = world_equal(&rng, 12, lead_db, truth_db);
        each_wire(&rng, &world, config, 1);
        for (int i = 0; i < pick.n_ranked; i++)
            if (pick.rank[i].wire == world.driven)
                sum += log(fmax(pick.rank[i].chance, 1e-9));
    }
    return sum / rounds;
}

static void a_true_history_scores_better_than_none_and_than_a_wrong_one(void **state)
{
    (void)state;
    struct thrum_pick_config none = thrum_pick_config_default(), steady = with_history(0.4, 30.0),
                             clumsy = with_history(2.2, 30.0);
    double true_steady = score(0.4, &steady, 60);
    assert_true(true_steady > score(0.4, &none, 60));
    assert_true(true_steady > score(0.4, &clumsy, 60));
    assert_true(score(2.2, &clumsy, 60) > score(2.2, &steady, 60));
}

static void repeats_overcome_a_wrong_history(void **state)
{
    (void)state;
    static const double truth[] = {0.4, 2.2};
    for (int k = 0; k < 2; k++) {
        struct thrum_pick_config wrong = with_history(truth[1 - k], 1000.0);
        struct rng rng = rng_seeded(5304);
        struct world world = world_equal(&rng, 12, 6.0, truth[k]);
        double from = wrong.placement_db;
        each_wire(&rng, &world, &wrong, 8); /* 84 repeats against 15 */
        assert_true(fabs(log(pick.placement_db / truth[k])) < 0.5 * fabs(log(from / truth[k])));
        assert_int_equal(pick.wire, world.driven);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_history_moves_the_starting_value),
        cmocka_unit_test(the_spread_of_rounds_played_to_their_end_is_found),
        cmocka_unit_test(a_true_history_scores_better_than_none_and_than_a_wrong_one),
        cmocka_unit_test(repeats_overcome_a_wrong_history),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
