/** @file levels.h
 *  Touches told apart by the tone's level: cuts a row of levels where the probe went to another wire or was lifted.
 *
 *  A row is a chain of touches, with or without lifts between. Within a touch the level is one unknown constant and
 *  a slow wobble of the hand (a second-order Gauss-Markov process); from one touch to the next it is a new constant;
 *  in a lift it is that of the air. Touches and lifts last as long as this hand's usually do, which is learned on the way. The
 *  likelihood of a stretch comes from a Kalman filter, the best chain and the chance of every border from sums over
 *  all chains (a hidden semi-Markov model). Sources: R. E. Kalman 1960; P. Fearnhead, Statistics and Computing 16,
 *  2006, exact inference for multiple changepoints (both from memory). Pure; no allocation after creation.
 */
#ifndef THRUM_LEVELS_H
#define THRUM_LEVELS_H

#include <stdbool.h>

#include "thrum/status.h"

#define THRUM_LEVELS_MAX 640 /**< Levels in one row. */

/** The level of a beep, or of a part of it. */
struct thrum_level {
    double from_s, to_s;
    double db;       /**< Level; a beep that is not there has the level of the noise. */
    double sd_db;    /**< Of that level, by noise. */
    double noise_db; /**< Level of that noise. */
};

/** A touch or a lift: levels [first, end). */
struct thrum_level_span {
    int first, end;
    bool lift;     /**< The probe was in the air. */
    bool toneless; /**< A touch of a wire as soft as the air: told by nothing but how long it is quiet. */
    /** Of a touch: the chance that its number in the row is wrong, or that it is more than one. */
    double doubt;
};

struct thrum_levels;

enum thrum_status thrum_levels_create(struct thrum_levels **levels);
void thrum_levels_destroy(struct thrum_levels *levels);

/** This hand lifts the probe between wires: the hum shows it. */
void thrum_levels_learn_lifts(struct thrum_levels *levels);

/** A touch whose length was told otherwise: how long touches of this hand last. */
void thrum_levels_learn_touch(struct thrum_levels *levels, double touch_s);

/** These stretches of the row last cut are done with: what they say of the share of wires without tone. */
void thrum_levels_given(struct thrum_levels *levels, const struct thrum_level_span *spans, int n);

/**
 * Cut a row.
 * @param[in]  row    In order, shape [n], n at most THRUM_LEVELS_MAX.
 * @param[in]  before_s  When the touch ended that was before the row, NULL when there was none.
 * @param[out] spans  Shape [THRUM_LEVELS_MAX]; they cover the row.
 * @return how many; 0 when n is 0.
 */
int thrum_levels_split(struct thrum_levels *levels, const struct thrum_level *row, int n,
                       const double *before_s, struct thrum_level_span *spans);

#endif
