/* A bundle as a technician meets it: every wire touched once, one carries the sender's tone, its neighbours some of
 * it, all of them the hum. Made of tests/support/signals.h, with the truth beside it. */
#ifndef THRUM_TEST_WIRES_H
#define THRUM_TEST_WIRES_H

#include <stddef.h>
#include <stdint.h>

#include "signals.h"
#include "thrum/round.h"

enum { WIRES_MOST = 24 };

/* How the bundle is made. */
struct wires_plan {
    uint64_t seed;
    int n_wires;
    double rate_hz, touch_s;
    struct sender sender; /* dbfs: on the driven wire; start_s is drawn anew for every touch */
    struct hum hum;       /* dbfs: mean over the wires, each has its own within 3 dB */
    double noise_dbfs;    /* white, whole band */
    /* The nearest neighbours; the rest is lower by up to spread_db more. 0: all alike */
    double least_down_db;
    double spread_db;
    double placement_db; /* each touch off by this, standard deviation */
    bool no_sender;
};

/* 12 wires, 3 s, 1037 Hz 250/250 ms at -45 dBFS, hum of 40 harmonics 20 dB over it, neighbours 8 dB down and more. */
struct wires_plan wires_plan_usual(uint64_t seed);

/* The touches' truth and how they are played. */
struct wires {
    struct wires_plan plan;
    struct rng rng;
    size_t n;   /* frames of a touch */
    int driven; /* which wire carries the tone; -1 with no_sender or all alike */
    double dbfs[WIRES_MOST];
    float *hum; /* one long stretch of hum that all touches are cut from */
    size_t hum_n;
};

struct wires wires_made(const struct wires_plan *plan);
void wires_free(struct wires *wires);

/* Play wire i, 0 to n_wires - 1, into x [wires->n]. Returns the strength as played, dBFS. */
double wires_touch(struct wires *wires, int i, float *x);

/* Touch all wires in order "1", "2", ... in one round, and give its snapshot (free() it). */
struct thrum_snapshot *wires_round(const struct wires_plan *plan, int *driven);

#endif
