/* Rounds with known truth in which groups of wires are held together too. The strength of a group is made here from the
 * wires' levels and their distances to the probe, independently of src/practice. */
#ifndef THRUM_TEST_HALVING_H
#define THRUM_TEST_HALVING_H

#include "bundle/halves.h"
#include "rounds.h"

/* A hand that makes mistakes: with this chance the driven wire is held with the wrong ones. */
struct group_hand {
    double slips;
};

/* The wires first to last lie around the probe, in an order drawn anew; the others are out of its reach. */
struct thrum_group_touch world_group_touch(struct rng *rng, const struct world *world,
                                           const struct group_hand *hand, int first, int last);

/* As play_on(), groups included: each counts as one touch. */
struct ending play_halves(struct rng *rng, const struct world *world, const struct group_hand *hand,
                          const struct thrum_pick_config *config, int most);

#endif
