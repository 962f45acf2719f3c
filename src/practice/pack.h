/* Wires laid in a hexagonal pack, and how they couple per metre. */
#ifndef PRACTICE_PACK_H
#define PRACTICE_PACK_H

#include <stdbool.h>

#include "thrum/practice.h"

#define PACK_PITCH_M 1.85e-3 /* axis to axis of touching wires: 18 AWG, insulated */

struct pack {
    int n;
    double x[THRUM_PRACTICE_MAX_WIRES]; /* in pitches; place 0 is the centre, then outwards */
    double y[THRUM_PRACTICE_MAX_WIRES];
    bool rim[THRUM_PRACTICE_MAX_WIRES]; /* sees the earth around the bundle */
};

/* Partial capacitances, farad per metre. Two wires shield each other's field with the wires they both touch:
   the fewer of those, the more two couple; [k]: k wires touch both. */
struct pack_coupling {
    double adjacent[3]; /* touching wires */
    double second[3];   /* sqrt(3) pitches apart */
    double third;       /* two pitches apart */
    double earth;       /* rim wire to the earth around */
};

/* 18 AWG, relative permittivity 3.5, after a finite-difference solution of thirty wires. */
struct pack_coupling pack_coupling_default(void);

/* The n positions of a hexagonal lattice nearest to a centre wire, 2 <= n <= THRUM_PRACTICE_MAX_WIRES. */
void pack_lay(struct pack *pack, int n);

/* Between two places, in pitches. */
double pack_distance(const struct pack *pack, int i, int j);

/* Maxwell's capacitance matrix in F/m: on the diagonal the sum of all partial capacitances of a wire,
   elsewhere minus the partial capacitance between two. Shape [n * n]. */
void pack_capacitance(const struct pack *pack, const struct pack_coupling *coupling, double *c);

#endif
