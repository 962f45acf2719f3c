/** @file keyed.h
 *  Makes the sound of a voice, for a player that stands in for a sender.
 *
 *  Pure; a value without memory of its own. Sines with rounded edges, so that one voice leaves the others alone.
 */
#ifndef THRUM_KEYED_H
#define THRUM_KEYED_H

#include <stddef.h>
#include <stdint.h>

#include "thrum/voice.h"

/** A voice being played. */
struct thrum_keyed {
    struct thrum_voice voice;
    double rate_hz, amplitude, ramp_s, cycle_s;
    uint64_t frame; /**< Of the next sample. */
};

/**
 * Begin at the voice's first step. A beep rises within 5 ms from the beginning of its step and falls within 5 ms
 * after its end, so that it lasts as long as the voice says at half its height; less in steps shorter than 10 ms.
 *
 * @param[in] voice  Passes thrum_voice_check().
 * @param[in] dbfs   RMS of the tone while on, full-scale sine = 0; at most 0.
 */
void thrum_keyed_start(struct thrum_keyed *keyed, const struct thrum_voice *voice, double rate_hz,
                       double dbfs);

/** The next n samples. Any split gives the same. @param[out] samples shape [n], within +/-1. */
void thrum_keyed_make(struct thrum_keyed *keyed, float *samples, size_t n);

/** The length nearest to seconds after which the sound can begin again without a jump, at least one cycle; frames. */
uint64_t thrum_keyed_whole_frames(const struct thrum_keyed *keyed, double seconds);

#endif
