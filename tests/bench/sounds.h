/* Sounds that no sender makes, for counting false alarms. Seeded. */
#ifndef THRUM_BENCH_SOUNDS_H
#define THRUM_BENCH_SOUNDS_H

#include <stddef.h>

#include "signals.h"

/* All add to x. */
void sound_speech(struct rng *rng, float *x, size_t n,
                  double rate_hz); /* voiced syllables, glides, hisses, pauses */
void sound_wind(struct rng *rng, float *x, size_t n, double rate_hz);   /* brown noise in slow gusts */
void sound_clicks(struct rng *rng, float *x, size_t n, double rate_hz); /* ringing clicks at random moments */
void sound_click_train(struct rng *rng, float *x, size_t n,
                       double rate_hz); /* the same, evenly, 1 to 20 a second */
void sound_gain_steps(struct rng *rng, float *x, size_t n,
                      double rate_hz); /* noise whose level jumps by up to 20 dB */

#endif
