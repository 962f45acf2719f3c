/** @file voice.h
 *  A sender's voice: what it sounds like.
 *
 *  A voice is a list of tones and a pattern of steps that repeats for ever. Each step holds one tone, or
 *  silence, for some time. One tone on and off is two steps; alternating tones are steps with tone 0, 1, ...;
 *  a steady tone is a single step.
 */
#ifndef THRUM_VOICE_H
#define THRUM_VOICE_H

#include "thrum/status.h"
#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

#define THRUM_VOICE_TONES     8
#define THRUM_VOICE_STEPS     24
#define THRUM_VOICE_NAME_SIZE 24
#define THRUM_SILENCE         (-1)

/** One step of the pattern. */
struct thrum_voice_step {
    int tone; /**< Index into tones_hz, or THRUM_SILENCE. */
    double s; /**< How long, seconds, > 0. */
};

/** A value: copy it freely. */
struct thrum_voice {
    char name[THRUM_VOICE_NAME_SIZE];                /**< Sender's name, "a" for the first. */
    int n_tones;                                     /**< 1 to THRUM_VOICE_TONES. */
    double tones_hz[THRUM_VOICE_TONES];              /**< THRUM_TONE_MIN_HZ to THRUM_TONE_MAX_HZ. [n_tones] */
    int n_steps;                                     /**< 1 to THRUM_VOICE_STEPS. */
    struct thrum_voice_step step[THRUM_VOICE_STEPS]; /**< [n_steps] */
    bool steady;       /**< One tone without a pause: hum on it cannot be told apart. */
    double level_dbfs; /**< Strength where it was learned; THRUM_FLOOR_DBFS if unknown. */
    double spread_s;   /**< Standard error of the step times, seconds; 0 if unknown. */
};

/**
 * Look a voice over before it is used.
 *
 * @param[in]  voice   Not NULL.
 * @param[out] reason  On THRUM_ERR_ARG points to a static phrase saying what is wrong; may be NULL.
 * @retval THRUM_OK       Every field is in its range, every tone is used, neighbouring steps differ.
 * @retval THRUM_ERR_ARG  It is not.
 */
enum thrum_status thrum_voice_check(const struct thrum_voice *voice, const char **reason);

/** One tone on and off, name "a", the everyday voice. All in range, or what thrum_voice_check() says. */
struct thrum_voice thrum_voice_beep(double tone_hz, double on_s, double off_s);

/** Length of the pattern, seconds. */
double thrum_voice_cycle_s(const struct thrum_voice *voice);

/** Seconds of the pattern in which a tone sounds. */
double thrum_voice_on_s(const struct thrum_voice *voice);

#ifdef __cplusplus
}
#endif
#endif
