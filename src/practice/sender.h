/* The sender: its steps for ever, one tone at a time, amplitude 1. */
#ifndef PRACTICE_SENDER_H
#define PRACTICE_SENDER_H

#include <stdint.h>

#include "practice/dice.h"
#include "thrum/practice.h"

#define PRACTICE_BLOCK 32   /* frames made at a time; slow things change from one to the next */
#define PRACTICE_BAND  0.45 /* nothing is made above this share of the sample rate */

struct sender {
    struct thrum_voice voice;
    bool square;
    double rate_hz, drift_hz_per_s;
    double start_turns[THRUM_VOICE_TONES]; /* phase at the start of a beep */
    double before_s;                       /* how far the first cycle had got at frame 0 */
    double cycle_s;
    uint64_t cycles; /* whole cycles finished */
    int step;
    double step_end_s;  /* in the cycle */
    uint64_t frame;     /* of the next sample */
    uint64_t next_step; /* frame at which the next step begins */
    double turns;       /* phase of the next sample */
};

void sender_start(struct sender *sender, const struct thrum_practice_config *config,
                  const struct thrum_voice *voice, struct dice *dice);

/* The next PRACTICE_BLOCK samples; tone[i] is the tone that sounds, 0 where none does (and the sample 0). */
void sender_make(struct sender *sender, double *wave, signed char *tone);

#endif
