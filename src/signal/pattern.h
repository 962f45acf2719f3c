/** @file pattern.h
 *  The repeating pattern in a run of tones and pauses.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_PATTERN_H
#define THRUM_PATTERN_H

#include <stdbool.h>

#include "thrum/voice.h"

/** A stretch in which one tone sounds, or none. */
struct thrum_run {
    int tone;      /**< Index, or THRUM_SILENCE. */
    double from_s; /**< From the beginning of the sound. */
    double to_s;
};

/** What repeats. */
struct thrum_pattern {
    int n_steps;
    struct thrum_voice_step step[THRUM_VOICE_STEPS];
    double start_s; /**< A repetition begins here; may lie before the sound. */
    double cycle_s;
    double scatter_s; /**< How far the runs stray from the pattern: RMS of their edges. */
    double cycles;    /**< Repetitions heard. */
};

/** How well runs must agree. */
struct thrum_pattern_limits {
    double tolerance_s; /**< Two runs are alike when they differ by no more than this... */
    double tolerance;   /**< ...or by this share of their length. */
};

/** What thrum_pattern_find() answers. */
enum thrum_pattern_found {
    THRUM_PATTERN_NONE,
    THRUM_PATTERN_FOUND,
    THRUM_PATTERN_TOO_SHORT /**< It may be one, but was not heard often enough. */
};

/**
 * Find the shortest unit that explains all runs. The first and the last run may be cut by the ends of the sound.
 *
 * Two repetitions must be there; a pattern of equal beeps with one longer pause, being plain, is believed from
 * about one and a half.
 *
 * With a step longer than 2.2 s, three.
 *
 * @param[in]  runs     In order, neighbours unlike, without holes. Shape [n].
 * @param[out] pattern  Filled in when it is found.
 */
enum thrum_pattern_found thrum_pattern_find(const struct thrum_run *runs, int n,
                                            const struct thrum_pattern_limits *limits,
                                            struct thrum_pattern *pattern);

/**
 * Is the voice's pattern a shorter one several times over? Then make it that.
 * @param[in] least_s  Steps that differ by no more than this, or by 2 %, are alike.
 */
bool thrum_pattern_reduce(struct thrum_voice *voice, double least_s);

#endif
