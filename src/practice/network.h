/* The bundle as a network: capacitances between the wires, resistances at their ends, one frequency. */
#ifndef PRACTICE_NETWORK_H
#define PRACTICE_NETWORK_H

#include <stdbool.h>

#include "thrum/practice.h"

/* A complex number; spelled out, because the compiler's own division differs between machines. */
struct phasor {
    double re, im;
};

struct network {
    int n;                                  /* wires */
    const double *c;                        /* Maxwell matrix, F/m, [n * n] */
    double length_m;                        /* of the run */
    bool fixed[THRUM_PRACTICE_MAX_WIRES];   /* held at `volts` by the sender or by a tie */
    double volts[THRUM_PRACTICE_MAX_WIRES]; /* of fixed wires */
    double to_common_s
        [THRUM_PRACTICE_MAX_WIRES]; /* conductance from the wire's end to the common, siemens; 0 = open */
    bool common_floats;             /* else the common is earth */
    double common_to_earth_s;       /* of a floating common */
};

/* Doubles of scratch that network_solve() needs for n wires. */
#define NETWORK_SCRATCH(n) (2 * ((n) + 1) * ((n) + 2))

/* Voltages of all wires at hz > 0. v: [n]; scratch: [NETWORK_SCRATCH(n)]. Every free wire must
   have some path to a fixed one or to earth. */
void network_solve(const struct network *net, double hz, double *scratch, struct phasor *v);

#endif
