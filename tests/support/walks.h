/* A walk over a practice bundle with the truth beside it, and the touches a listener found in it. */
#ifndef THRUM_TEST_WALKS_H
#define THRUM_TEST_WALKS_H

#include <stddef.h>

#include "thrum/listen.h"
#include "thrum/practice.h"

enum { WALK_TOUCHES = 128 };

struct walk {
    float *x; /* [n] */
    size_t n;
    double rate_hz;
    int n_wires;
    struct thrum_span touch[WALK_TOUCHES]; /* [n_wires] as played */
    double dbfs[WALK_TOUCHES];             /* strength without hand and placement */
    int driven;
    struct thrum_voice voice;
};

struct walk walk_made(const struct thrum_practice_config *config);
void walk_free(struct walk *walk);

/* A listener for the walk; blocks of so many frames. found: shape [WALK_TOUCHES]. Returns how many touches. */
int walk_heard(const struct walk *walk, size_t block, struct thrum_span *found);

/* The strongest touch that a listener finds in the walk. Returns its number, from 0; -1 when nothing is heard. */
int walk_strongest(const struct walk *walk, struct thrum_reading *strongest);

/* Fails unless there is one found touch for each wire, with borders no further off than this. */
void walk_expect(const struct walk *walk, const struct thrum_span *found, int n_found, double border_s);

#endif
