/* The picks of the search by halves are right as often as they say, over many rounds. */
#include "check.h"

#include <math.h>

#include "bundle/halves.h"
#include "halving.h"

/* Small bundles tell as much in a fifth of the time. */
static struct world small_world(struct rng *rng, enum world_kind kind)
{
    struct world world;
    do
        world = world_of_kind(rng, kind);
    while (world.n_wires < THRUM_HALVES_FEWEST || world.n_wires > 16);
    return world;
}

/* Every kind of bundle, a wire held with the wrong half in 2 of 100 group touches. Chances between 0.99 and 1 must be right
 * as often as said: a shortfall of four standard errors fails. */
static void picks_are_as_honest_as_they_say_over_600_rounds(void **state)
{
    (void)state;
    enum { ROUNDS = 600 };
    struct thrum_pick_config config = thrum_pick_config_default();
    struct group_hand hand = {0.02};
    int picked = 0, right = 0;
    double said = 0.0;
    for (int i = 0; i < ROUNDS; i++) {
        struct rng rng = rng_seeded(50000 + (uint64_t)i);
        struct world world = small_world(&rng, (enum world_kind)(i % WORLD_KINDS));
        struct ending end = play_halves(&rng, &world, &hand, &config, 2 * world.n_wires);
        if (end.outcome != THRUM_PICKED)
            continue;
        picked++;
        right += is_right(&world, &end);
        said += end.chance;
    }
    double mean = said / picked, error = sqrt(mean * (1.0 - mean) / picked);
    print_message("%d picked, right %.4f, said %.4f\n", picked, (double)right / picked, mean);
    assert_true(picked > 120);
    assert_true((double)right / picked >= mean - 4.0 * error);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(picks_are_as_honest_as_they_say_over_600_rounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
