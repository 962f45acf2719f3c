/** @file mains.h
 *  Finds the mains in a sound: its frequency, how it drifts, how loud its hum is.
 *
 *  Works on the analysis signal: mono, 8000 to 16000 samples a second. What makes a line hum and not anything else
 *  is that it stays in phase from frame to frame and that its frequency is a multiple of a fundamental between 45
 *  and 66 Hz; a keyed tone, speech and wind do not. At least one harmonic below 290 Hz must stand out (the lowest
 *  tone of a sender is 300 Hz), so that a tone that lies on a harmonic is never taken for mains.
 *
 *  Two ways in: thrum_mains_measure() looks at one piece of sound; the tracker follows a running sound.
 *  Pure: no I/O, no clock, no locks, no allocation after creation. One object belongs to one thread at a time.
 */
#ifndef THRUM_SIGNAL_MAINS_H
#define THRUM_SIGNAL_MAINS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/status.h"

#define THRUM_MAINS_MIN_HZ       45.0
#define THRUM_MAINS_MAX_HZ       66.0
#define THRUM_MAINS_MAX          2    /**< Mains told apart at once (site supply and generator). */
#define THRUM_MAINS_HARMONICS    72   /**< Highest harmonic looked at. */
#define THRUM_MAINS_OTHERS       16   /**< Most lines told that belong to no mains. */
#define THRUM_MAINS_AVOID        128  /**< Most tones that can be left out. */
#define THRUM_MAINS_MEASURE_S    10.0 /**< The most of a piece of sound that is looked at: its last part. */
#define THRUM_MAINS_SHORTEST_S   0.4  /**< Shorter pieces say nothing about mains. */
#define THRUM_MAINS_TRACK_S      5.0  /**< How much of the past the tracker looks at. */
#define THRUM_MAINS_TRACK_EACH_S 0.4  /**< How often the tracker's answer is renewed. */

/** One mains: a value. */
struct thrum_mains_value {
    bool found;            /**< The rest means something. */
    double hz;             /**< Fundamental in the middle of the sound looked at; 0 if not found. */
    double slope_hz_per_s; /**< How it moves; 0 if not found. */
    double se_hz; /**< Standard error of hz; wander that is no straight drift is not in it; 0 if not found. */
    /** RMS of what hz does beside the straight drift, seen in steps of half a frame; 0 if not found. */
    double wander_hz;
    double dbfs;   /**< RMS of all harmonics that stand out; full-scale sine = 0; the floor if not found. */
    int harmonics; /**< How many stand out; 0 if not found. */
};

struct thrum_mains;

/**
 * Make an estimator for single pieces of sound.
 *
 * @param[in]  rate_hz  8000 to below 16000 (16000 itself is taken too).
 * @param[out] mains    Owned by the caller, or NULL on error. Free with thrum_mains_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_mains_create(double rate_hz, struct thrum_mains **mains);

/** Free it. NULL is allowed. */
void thrum_mains_destroy(struct thrum_mains *mains);

/**
 * Name the tones that are not mains: a harmonic within 12 Hz of one is left out of everything. Not needed, but a steady tone
 * on a harmonic would otherwise count as hum. Lines that may be side bands of a tone's beeps are left out of thrum_mains_others(). Replaces the
 * tones named before.
 *
 * @param[in] tones_hz  Shape [n]; NULL allowed when n is 0.
 * @param[in] beep_s    Shape [n]: how long each sounds at once, on average; NULL where no tone is keyed.
 * @param[in] n         0 to THRUM_MAINS_AVOID; further ones are ignored.
 */
void thrum_mains_avoid(struct thrum_mains *mains, const double *tones_hz, const double *beep_s, int n);

/**
 * Look for mains in a piece of sound. Cannot fail. Independent of earlier calls.
 *
 * @param[in]  x    Finite samples, full scale = +/-1, shape [n].
 * @param[in]  n    Any; below THRUM_MAINS_SHORTEST_S nothing is found; of more than THRUM_MAINS_MEASURE_S the last part is used.
 * @param[out] out  Louder one first; found = false where there is none (silence, noise).
 */
void thrum_mains_measure(struct thrum_mains *mains, const float *x, size_t n,
                         struct thrum_mains_value out[THRUM_MAINS_MAX]);

/**
 * The steady lines of the sound looked at last that belong to no mains: a machine's whine, a string, a sender that never
 * pauses. None within 12 Hz of a tone named.
 *
 * @param[out] hz  The strongest first, shape [THRUM_MAINS_OTHERS].
 * @return how many there are; 0 in noise and silence.
 */
int thrum_mains_others(const struct thrum_mains *mains, double hz[THRUM_MAINS_OTHERS]);

struct thrum_mains_tracker;

/** Make a tracker for a running sound. Arguments and answers as in thrum_mains_create(). */
enum thrum_status thrum_mains_tracker_create(double rate_hz, struct thrum_mains_tracker **tracker);

/** Free it. NULL is allowed. */
void thrum_mains_tracker_destroy(struct thrum_mains_tracker *tracker);

/** As thrum_mains_avoid(), of tones that are not keyed. */
void thrum_mains_tracker_avoid(struct thrum_mains_tracker *tracker, const double *tones_hz, int n);

/** Forget everything heard; as new. */
void thrum_mains_tracker_reset(struct thrum_mains_tracker *tracker);

/** Hear the next samples, any number. Any split of a sound into calls gives the same answers to the last digit. */
void thrum_mains_tracker_feed(struct thrum_mains_tracker *tracker, const float *x, size_t n);

/**
 * How many samples may be fed before the answer can change: at least 1. To act on a new answer at the very
 * sample where it comes, feed no more than this at once.
 */
size_t thrum_mains_tracker_until_new(const struct thrum_mains_tracker *tracker);

/**
 * The answer now: hz is carried on from the middle of what was looked at to the last sample of it.
 *
 * @param[out] out  Louder one first; found = false where there is none (yet).
 */
void thrum_mains_tracker_now(const struct thrum_mains_tracker *tracker,
                             struct thrum_mains_value out[THRUM_MAINS_MAX]);

#endif
