/* How much of each wire the probe's tip hears. */
#ifndef PRACTICE_PROBE_H
#define PRACTICE_PROBE_H

#define PROBE_TIP_M 1.5e-3  /* tip to the axis of the wire it touches */
#define PROBE_FAN_M 30.0e-3 /* the wires are fanned out where they are touched: pitch of the fan */

/* Field of one long wire at r metres, per unit of charge: 1/r, 6 dB for every halving. */
double probe_line_field(double r_m);

/* Field of a wire and its return s metres apart, r metres from their middle, in line with them:
   1/(r - s/2) - 1/(r + s/2), far away 12 dB for every halving. */
double probe_pair_field(double r_m, double s_m);

/* Weight of a wire that lies `pitches` places from the one touched; the touched one (0) has weight 1. */
double probe_weight(double pitches);

/* Weight of a wire of a group that is held around the tip, `pitches` of the pack away (1 for those that touch the tip), on
 * the same scale. */
double probe_group_weight(double pitches);

#endif
