/** @file handtrack.h
 *  The level of one touch, or of one lift, followed from beep to beep: an unknown constant and the hand's wobble about it.
 *
 *  The wobble is a second-order Gauss-Markov process of autocorrelation (1 + t / 0.4 s) exp(-t / 0.4 s); a Kalman filter
 *  (R. E. Kalman 1960, from memory) follows constant, wobble and its speed. A level far off for at most 0.16 s is a slip
 *  of the probe and tells nothing. Values, no allocation, pure; levels in dB, times in seconds, all finite.
 */
#ifndef THRUM_HANDTRACK_H
#define THRUM_HANDTRACK_H

#include "listen/levels.h"

#define THRUM_HAND_S 0.4

/** How wobble and speed go on over a time. */
struct thrum_handmove {
    double ww, ws, sw, ss;
};

struct thrum_handtrack {
    double level, wobble, speed;
    double pll, plw, pls, pww, pws, pss; /* covariances of these */
    double variance;                     /* of the wobble */
    double ln;                           /**< Likelihood of what has been seen. */
    double slip_s;                       /* beginning of the slip in progress, or < 0 */
};

/** @param[in] spread_db  Standard deviation of the constant about level_db; wobble_db that of the wobble. */
struct thrum_handtrack thrum_handtrack_begin(double level_db, double spread_db, double wobble_db);

struct thrum_handmove thrum_handmove_over(double s);

/** On to the next level: the wobble goes on by its own law, and less is known of it. */
void thrum_handtrack_move(struct thrum_handtrack *track, const struct thrum_handmove *move);

/** @param[in] floor_db  What is softer counts as this. */
void thrum_handtrack_see(struct thrum_handtrack *track, const struct thrum_level *level, double floor_db);

#endif
