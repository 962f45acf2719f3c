/* How much longer a touch is worth holding, from what it measured so far. */
#ifndef THRUM_ROUND_HOLD_H
#define THRUM_ROUND_HOLD_H

#include "thrum/round.h"

/* Interval from which on a touch is narrow enough, in dB: its standard error (1.5 / 3.92 = 0.38 dB) then adds 7 % to the
 * placement spread of 1 dB, which only another touch can make smaller. */
#define HOLD_NARROW_DB 1.5
/* A touch whose upper limit lies so far below the lower limit of the strongest wire needs no better interval. */
#define HOLD_CLEAR_DB 6.0

struct hold {
    enum thrum_hold state;
    double left_s; /* 0 unless THRUM_HOLD_ON */
};

/* The touch so far. A noise-like error shrinks as the root of time: an interval of w dB after t seconds is
 * HOLD_NARROW_DB wide after t (w / HOLD_NARROW_DB)^2.
 * cycle_s: of each sender's cadence; best_low_db: lower end of the strongest reading so far, THRUM_FLOOR_DBFS for none;
 * both of shape [so_far->n_senders]. With so_far->frames = 0: nothing is known yet. */
struct hold hold_judge(const struct thrum_reading *so_far, const double *cycle_s, const double *best_low_db);

#endif
