/** @file beeps.h
 *  Where a voice's beeps lie in a stretch of sound, given its timing.
 */
#ifndef THRUM_BEEPS_H
#define THRUM_BEEPS_H

#include <stdbool.h>

#include "thrum/voice.h"

/** How a voice runs in one touch. */
struct thrum_timing {
    /** Time into the pattern at the stretch's first sample, seconds of the voice's own clock. */
    double start_s;
    double scale;     /**< The sender's clock: real seconds per second of pattern, about 1. */
    double stretch_s; /**< Every tone next to a pause ends this much later than the voice says. */
};

/** One beep, or a part of it: times in seconds from the stretch's beginning. */
struct thrum_beep {
    int tone;
    double from_s, to_s;
    double whole_s;    /**< Length of the beep it is (a part of), uncut. */
    int cycle, step;   /**< Which step of which repetition; repetition 0 holds time 0. */
    bool begins, ends; /**< from_s, to_s are edges of the beep itself, not a cut. */
    bool before_pause; /**< Its end is followed by silence. */
};

/**
 * All beeps that touch [from_s, to_s), cut to it, in order; tones longer than longest_s in equal parts.
 *
 * @param[out] beeps  Shape [max].
 * @return how many; never more than max (the rest is left out).
 */
int thrum_beeps_list(const struct thrum_voice *voice, const struct thrum_timing *timing, double from_s,
                     double to_s, double longest_s, struct thrum_beep *beeps, int max);

/** Shortest step of the pattern, seconds; longest tone; shortest pause (0 if none). */
double thrum_beeps_shortest_s(const struct thrum_voice *voice);
double thrum_beeps_longest_tone_s(const struct thrum_voice *voice);
/** How long a tone sounds at once, on average, seconds; 0 where the pattern has no beep of it. */
double thrum_beeps_mean_s(const struct thrum_voice *voice, int tone);

#endif
