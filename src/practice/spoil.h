/* What bad inputs do to sound: one fault at a time, for showing and for trying. */
#ifndef PRACTICE_SPOIL_H
#define PRACTICE_SPOIL_H

#include "thrum/practice.h"

#define PRACTICE_REPEAT 2048 /* frames of the longest repeated buffer */

struct spoil {
    enum thrum_practice_fault fault;
    double rise, fall; /* of what follows the level, per frame */
    double power;      /* that level */
    double limit;      /* amplitude: where tops are cut, where the gate opens */
    double fade, wake; /* of the tone that is taken for noise, per frame */
    double tone_gain;
    int silent; /* frames without a tone */
    int held, hold;
    int period, size, at; /* repeated buffers */
    float buffer[PRACTICE_REPEAT];
};

void spoil_start(struct spoil *spoil, const struct thrum_practice_config *config);

/* The parts of one frame before they are added; tone is exactly 0 in the sender's pauses. */
void spoil_parts(struct spoil *spoil, double *tone, double *hum, double *noise);

/* One frame, full scale = +/-1 but not limited yet. */
double spoil_frame(struct spoil *spoil, double x);

#endif
