#include "rounds.h"

#include <math.h>

struct world world_equal(struct rng *rng, int n_wires, double lead_db, double placement_db)
{
    struct world world = {.n_wires = n_wires,
                          .spliced = -1,
                          .placement_db = placement_db,
                          .sd_db = 0.15,
                          .threshold_db = -200.0};
    world.driven = (int)(n_wires * rng_uniform(rng));
    for (int i = 0; i < n_wires; i++)
        world.db[i] = -40.0 - (i == world.driven ? 0.0 : lead_db);
    return world;
}

static double exponential(struct rng *rng, double mean)
{
    return -mean * log(1.0 - rng_uniform(rng));
}

/* Level of a wire that is not driven, below one at 0 dB. */
static double other_level(struct rng *rng, enum world_kind kind, double lead_db, bool neighbour)
{
    switch (kind) {
    case WORLD_FREE:
        return neighbour ? -rng_between(rng, 1.8, 2.8) : -rng_between(rng, 3.0, 6.0);
    case WORLD_TIED:
    case WORLD_SPLICED:
        return neighbour ? -rng_between(rng, 8.0, 16.0) : -rng_between(rng, 20.0, 45.0);
    case WORLD_NEAR:
        return -rng_between(rng, 0.0, 15.0);
    case WORLD_SKEWED:
        return -lead_db - exponential(rng, 6.0);
    case WORLD_SHARED:
        return 0.2 * rng_normal(rng);
    default:
        return -lead_db;
    }
}

struct world world_of_kind(struct rng *rng, enum world_kind kind)
{
    int n = (int)rng_between(rng, 4.0, 36.99);
    double lead_db = kind == WORLD_EQUAL ? rng_between(rng, 0.5, 12.0) : rng_between(rng, 0.0, 6.0);
    struct world world = world_equal(rng, n, lead_db, rng_between(rng, 0.3, 2.5));
    int neighbours = 2 + (int)rng_between(rng, 0.0, 4.99);
    for (int i = 0; i < n; i++)
        if (i != world.driven)
            world.db[i] = -40.0 + other_level(rng, kind, lead_db, (i - world.driven + n) % n <= neighbours);
    if (kind == WORLD_SPLICED) {
        world.spliced = (world.driven + 1 + (int)rng_between(rng, 0.0, n - 1.001)) % n;
        world.db[world.spliced] = world.db[world.driven];
    }
    if (kind == WORLD_SHARED)
        world.driven = -1;
    if (rng_uniform(rng) < 0.15)
        world.sag_db_per_min = -rng_between(rng, 0.2, 1.5);
    world.sd_db = rng_between(rng, 0.05, 0.6);
    world.threshold_db = rng_uniform(rng) < 0.3 ? -40.0 - rng_between(rng, 5.0, 25.0) : -200.0;
    return world;
}

struct thrum_touch world_touch(struct rng *rng, const struct world *world, int wire, int index)
{
    struct thrum_touch touch = {.wire = wire, .at_s = 5.0 * index};
    double db = world->db[wire] + world->placement_db * rng_normal(rng) +
                world->sag_db_per_min * touch.at_s / 60.0 + world->sd_db * rng_normal(rng);
    touch.heard = db > world->threshold_db;
    touch.dbfs = db;
    touch.sd_db = world->sd_db;
    touch.high_db = world->threshold_db + 2.0;
    return touch;
}

struct ending play_once(struct rng *rng, const struct world *world, const struct thrum_pick_config *config)
{
    struct thrum_touch touches[ROUND_WIRES];
    struct thrum_pick pick;
    for (int i = 0; i < world->n_wires; i++)
        touches[i] = world_touch(rng, world, i, i);
    thrum_pick_compute(config, world->n_wires, touches, world->n_wires, &pick);
    return (struct ending){pick.outcome, pick.wire, pick.chance, world->n_wires,
                           pick.outcome == THRUM_EVERYWHERE};
}

struct ending play_on(struct rng *rng, const struct world *world, const struct thrum_pick_config *config,
                      int most)
{
    struct thrum_touch touches[ROUND_TOUCHES];
    struct thrum_pick pick;
    bool ever = false;
    int n = 0;
    for (;;) {
        thrum_pick_compute(config, world->n_wires, touches, n, &pick);
        ever = ever || pick.outcome == THRUM_EVERYWHERE;
        if (pick.outcome == THRUM_PICKED || pick.next_touch < 0 || n >= most || n >= ROUND_TOUCHES)
            break;
        touches[n] = world_touch(rng, world, pick.next_touch, n);
        n++;
    }
    return (struct ending){pick.outcome, pick.wire, pick.chance, n, ever};
}

bool is_right(const struct world *world, const struct ending *ending)
{
    return ending->wire >= 0 && (ending->wire == world->driven || ending->wire == world->spliced);
}
