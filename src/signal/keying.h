/** @file keying.h
 *  Does what was found key as the voice does, or is it something else: a steady sound, another cadence, bursts?
 *
 *  Three accounts of the same windows are weighed by their likelihoods, each with its best numbers: a tone that sounds in
 *  the beeps and hardly in the pauses; one that sounds in the pauses too, weaker or not, or in
 *  every second beep only; sounds that come when they like,
 *  as loud as they like. docs/measuring.md has the densities. Pure; no allocation; any thread.
 */
#ifndef THRUM_KEYING_H
#define THRUM_KEYING_H

#include <stdbool.h>

#include "thrum/voice.h"

/** One beep, or one pause of a tone. */
struct thrum_keying_window {
    double power;    /**< |amplitude|^2 as measured, noise and all. */
    double variance; /**< What noise alone would make of it, on average: the noise of that very time. > 0. */
    bool on;         /**< A beep. */
};

/** ln of the likelihood of "keys as the voice does" over that of another account; 0 where nothing tells. */
struct thrum_keying_odds {
    double noise;  /**< Over noise of each window's own size. */
    double bursts; /**< Over sounds that come when they like. */
    /** Over a tone that sounds in the pauses with 0.3 of its power or more, or in every second beep. */
    double pauses;
};

/** Most pieces. */
#define THRUM_KEYING_PIECES 2048

/** A short piece of a beep or of a pause. */
struct thrum_keying_piece {
    int tone;        /**< Of the voice. */
    double at_s;     /**< From the beginning of the stretch, >= 0. */
    double power;    /**< As in a window. */
    double variance; /**< > 0. */
    bool on;         /**< Of a beep. */
};

/** Pieces of one stretch, in any order. */
struct thrum_keying_pieces {
    const struct thrum_keying_piece *piece; /**< Powers finite. Shape [n]. */
    int n;                                  /**< 0 to THRUM_KEYING_PIECES. */
    double piece_s;                         /**< About how long they are, > 0. */
    double cycle_s;                         /**< Of the cadence. */
};

/**
 * Does the tone sound through all of each beep and in no part of a pause? Beeps of another length hold some of their tone in the
 * voice's beeps and leave some of its pauses free: whole windows do not tell.
 *
 * @return ln of the likelihood of that, in a part of the stretch, over a tone that sounds in any pieces, whichever; in runs of them; or
 *         in runs that come back in each cycle. 0 where nothing tells.
 */
double thrum_keying_whole(const struct thrum_keying_pieces *pieces);

/** @param[in] windows  Shape [n], beeps in the order they sound, pauses anywhere, powers finite. n = 0: both 0. */
struct thrum_keying_odds thrum_keying_weigh(const struct thrum_keying_window *windows, int n);

#endif
