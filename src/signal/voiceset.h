/** @file voiceset.h
 *  Proposes voices for several senders at once, so that none can be taken for another, for hum, or for what a
 *  distorting player or input makes of the others.
 *
 *  Pure; no allocation. The same question always has the same answer.
 */
#ifndef THRUM_VOICESET_H
#define THRUM_VOICESET_H

#include <stdbool.h>

#include "thrum/status.h"
#include "thrum/units.h"
#include "thrum/voice.h"

/** What every proposed set keeps; hertz. */
#define THRUM_VOICESET_LOWEST_HZ 400.0 /**< Hum is weaker above... */
/** ...and small loudspeakers, cheap inputs and ears do well below. */
#define THRUM_VOICESET_HIGHEST_HZ 2000.0
#define THRUM_VOICESET_MAINS_HZ   8.0   /**< From every harmonic of the mains... */
#define THRUM_VOICESET_MAINS_OFF  0.01  /**< ...that may be off by this much of itself. */
#define THRUM_VOICESET_APART_HZ   100.0 /**< Of any two voices. */
/** From every whole multiple of another voice, in [THRUM_TONE_MIN_HZ, 10 kHz]. */
#define THRUM_VOICESET_HARMONIC_HZ 20.0
#define THRUM_VOICESET_MIXED_HZ    20.0 /**< From 2a - b of any two others: what overload makes of two tones. */
#define THRUM_VOICESET_STEP_S      0.02 /**< By which the beep lengths differ from voice to voice. */

/** The distances that a set of tones really keeps, hertz; infinite where there is nothing to be near to. */
struct thrum_voiceset_room {
    double mains_hz;    /**< From any harmonic of the mains. */
    double apart_hz;    /**< Of two voices. */
    double harmonic_hz; /**< From any multiple of another. */
    double mixed_hz;    /**< From 2a - b of any two others. */
};

/** Measure a set of tones, in any order. @param[in] hz shape [n]. */
struct thrum_voiceset_room thrum_voiceset_room(const double *hz, int n, double mains_hz);

/**
 * Propose n voices that keep all of the above. Of all sets the one whose nearest two voices are farthest apart, up
 * to 200 Hz; of those the one nearest to 1 kHz. Each beeps with a length of its own, 0.16 s and longer, with equal
 * pauses. Named a, b, ... from the lowest tone up.
 *
 * @param[in]  n         1 to THRUM_MAX_SENDERS.
 * @param[in]  mains_hz  45 to 66.
 * @param[out] voices    Shape [n]; pass thrum_voice_check().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG        n or mains_hz outside its range.
 * @retval THRUM_ERR_NOT_FOUND  There is no such set.
 */
enum thrum_status thrum_voiceset_propose(int n, double mains_hz, struct thrum_voice *voices);

#endif
