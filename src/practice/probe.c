#include "practice/probe.h"

#include "practice/pack.h"

double probe_line_field(double r_m)
{
    return 1.0 / r_m;
}

double probe_pair_field(double r_m, double s_m)
{
    return probe_line_field(r_m - 0.5 * s_m) - probe_line_field(r_m + 0.5 * s_m);
}

/* What a wire's charge pulls out of its surroundings sits about one pitch behind it. */
static double field_of_wire(double r_m)
{
    return probe_pair_field(r_m + 0.5 * PACK_PITCH_M, PACK_PITCH_M);
}

double probe_weight(double pitches)
{
    double r_m = pitches > 0.0 ? pitches * PROBE_FAN_M : PROBE_TIP_M;
    return field_of_wire(r_m) / field_of_wire(PROBE_TIP_M);
}

double probe_group_weight(double pitches)
{
    double r_m = pitches * PACK_PITCH_M;
    return field_of_wire(r_m > PROBE_TIP_M ? r_m : PROBE_TIP_M) / field_of_wire(PROBE_TIP_M);
}
