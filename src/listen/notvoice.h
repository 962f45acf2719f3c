/** @file notvoice.h
 *  What a sound is that holds no voice, as far as it can be told.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_NOTVOICE_H
#define THRUM_NOTVOICE_H

#include <stdbool.h>
#include <stddef.h>

#include "signal/shorttime.h"
#include "thrum/learn.h"

/** What was seen on the way. */
struct thrum_notvoice_facts {
    double rate_hz;
    const float *x;     /**< The sound, shape [n]. */
    const float *clean; /**< The same, hum taken out, shape [n]. */
    size_t n;
    const struct thrum_shorttime *sound; /**< Spectra of `clean`. */
    const struct thrum_shorttime *quick; /**< The same with a short window. */
    int n_hum;                           /**< Mains found. */
    bool too_fast;                       /**< Beeps were seen that are too short. */
    bool too_short;                      /**< Beeps were seen, but not often enough. */
};

/** Never THRUM_VOICE_FOUND. */
enum thrum_not_voice thrum_notvoice_tell(const struct thrum_notvoice_facts *facts);

/** Most of the energy lies in one line that moves without jumping. */
bool thrum_notvoice_sweeps(const struct thrum_shorttime *sound);

/** A line between the mains' harmonics with others of its kind at even numbers of mains away on both sides: hum too, made by
 *  a loose contact or a machine. @param[in] x  Hum taken out, shape [n]. */
bool thrum_notvoice_beside_hum(const float *x, size_t n, double rate_hz, double hz, double mains_hz);

/** Every sample the same: nothing arrives. */
bool thrum_notvoice_silent(const float *x, size_t n);

#endif
