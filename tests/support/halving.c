#include "halving.h"

#include <math.h>

/* Distances in a hexagonal pack from the place in its middle, where the tip is: places per ring, and pitches. */
static const struct {
    int places;
    double pitches;
} RING[] = {{6, 1.0}, {6, 1.7321}, {6, 2.0}, {12, 2.6458}, {6, 3.0}, {1000, 3.6}};
static const double PITCH_MM = 1.85, TIP_MM = 1.5;

/* A wire, and what its charge pulls out of its surroundings a pitch behind it. */
static double field(double r_mm)
{
    return 1.0 / r_mm - 1.0 / (r_mm + PITCH_MM);
}

static double weight(int place)
{
    int ring = 0;
    while (place >= RING[ring].places)
        place -= RING[ring++].places;
    return field(fmax(RING[ring].pitches * PITCH_MM, TIP_MM)) / field(TIP_MM);
}

static void shuffle(struct rng *rng, int *list, int n)
{
    for (int i = n - 1; i > 0; i--) {
        int j = (int)((i + 1) * rng_uniform(rng)), kept = list[i];
        list[i] = list[j];
        list[j] = kept;
    }
}

struct thrum_group_touch world_group_touch(struct rng *rng, const struct world *world,
                                           const struct group_hand *hand, int first, int last)
{
    int held[ROUND_WIRES], n = 0;
    bool slip = rng_uniform(rng) < hand->slips;
    for (int i = 0; i < world->n_wires; i++) {
        bool in = i >= first && i <= last;
        if (in != (slip && i == world->driven))
            held[n++] = i;
    }
    shuffle(rng, held, n);
    double sum = 0.0;
    for (int p = 0; p < n; p++)
        sum += weight(p) * pow(10.0, world->db[held[p]] / 20.0);
    double db = 20.0 * log10(fmax(sum, 1e-9)) + world->placement_db * rng_normal(rng) +
                world->sd_db * rng_normal(rng);
    return (struct thrum_group_touch){
        first, last, db > world->threshold_db, db, world->sd_db, world->threshold_db + 2.0, 0u};
}

struct ending play_halves(struct rng *rng, const struct world *world, const struct group_hand *hand,
                          const struct thrum_pick_config *config, int most)
{
    struct thrum_touch touches[ROUND_TOUCHES];
    struct thrum_group_touch groups[ROUND_TOUCHES];
    struct thrum_pick alone, pick; /* what the single touches say, and what the groups make of it */
    bool ever = false;
    int n = 0, n_groups = 0, n_weighed = -1;
    for (;;) {
        if (n_weighed != n)
            thrum_pick_compute(config, world->n_wires, touches, n, &alone);
        n_weighed = n;
        pick = alone;
        thrum_halves_join(config, groups, n_groups, &pick);
        ever = ever || pick.outcome == THRUM_EVERYWHERE;
        if (pick.outcome == THRUM_PICKED || pick.next_touch < 0 || n + n_groups >= most ||
            n + n_groups >= ROUND_TOUCHES)
            break;
        if (pick.next_last > pick.next_touch) {
            groups[n_groups++] = world_group_touch(rng, world, hand, pick.next_touch, pick.next_last);
        } else {
            touches[n] = world_touch(rng, world, pick.next_touch, n + n_groups);
            n++;
        }
    }
    return (struct ending){pick.outcome, pick.wire, pick.chance, n + n_groups, ever};
}
