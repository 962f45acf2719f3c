/* How many rounds of one touch each can be picked at once by anyone who does not pick between two wires alike. */
#ifndef THRUM_BENCH_CHOOSING_BOUND_H
#define THRUM_BENCH_CHOOSING_BOUND_H

#include "signals.h"

/**
 * The largest share of rounds (30 wires, one lead_placements above 29 alike) that any rule can pick which picks in at
 * most 1 of 100 rounds where two wires are within 0.2 placements of each other and the other 28 alike below them, however far:
 * worst of 2 to 6 placements in halves. Everything but which wires is known to the rule. By the lemma of Neyman and
 * Pearson (Phil. Trans. A 231, 1933, from memory) that is the rule that picks where the ratio of the two likelihoods is large.
 */
double bench_most_at_once(struct rng *rng, int rounds, double lead_placements);

#endif
