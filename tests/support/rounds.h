/* Rounds with known truth: levels of all wires, a hand that places the probe anew at every touch, readings. */
#ifndef THRUM_TEST_ROUNDS_H
#define THRUM_TEST_ROUNDS_H

#include <stdbool.h>

#include "signals.h"
#include "thrum/pick.h"

enum { ROUND_WIRES = 40, ROUND_TOUCHES = 400 };

struct world {
    int n_wires;
    double db[ROUND_WIRES]; /* true levels */
    int driven, spliced;    /* wires that carry the sender; -1 for none */
    double placement_db;    /* standard deviation from touch to touch */
    double sag_db_per_min;
    double sd_db;        /* error of one reading */
    double threshold_db; /* below it nothing is heard */
};

/* What became of a round. */
struct ending {
    enum thrum_outcome outcome;
    int wire;
    double chance;
    int touches;
    bool ever_everywhere; /* announced on the way, not only in the end */
};

enum world_kind {
    WORLD_EQUAL,   /* all others alike, some dB down */
    WORLD_FREE,    /* a few neighbours 2 to 3 dB down, the rest 3 to 6 */
    WORLD_TIED,    /* neighbours 8 to 16 dB down, the rest far lower */
    WORLD_NEAR,    /* levels spread evenly below the driven wire */
    WORLD_SKEWED,  /* gaps exponential */
    WORLD_SPLICED, /* as tied, two wires carry the sender */
    WORLD_SHARED,  /* none stands out: the tone is the same everywhere */
    WORLD_KINDS
};

/* A world of equal others, lead_db down; 0.15 dB of reading error, everything heard. */
struct world world_equal(struct rng *rng, int n_wires, double lead_db, double placement_db);

/* One of the given kind, everything else drawn. */
struct world world_of_kind(struct rng *rng, enum world_kind kind);

struct thrum_touch world_touch(struct rng *rng, const struct world *world, int wire, int index);

/* One touch of each wire in order, then the verdict. */
struct ending play_once(struct rng *rng, const struct world *world, const struct thrum_pick_config *config);

/* From the first touch on where the verdict says, until it picks or has nothing more to ask, at most `most` touches. */
struct ending play_on(struct rng *rng, const struct world *world, const struct thrum_pick_config *config,
                      int most);

/* The ending names a wire that carries the sender. */
bool is_right(const struct world *world, const struct ending *ending);

#endif
