#include "signal/upsample.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "signal/kaiser.h"

#define SIDE   16 /* samples on either side */
#define TAPS   (2 * SIDE)
#define PHASES 240 /* between two samples: whole steps for the usual ratios */
#define PASS   0.425
#define STOP   0.575
#define DOWN   60.0

struct thrum_upsample {
    double place, step;          /* of the next sample out, after the newest but SIDE; in samples */
    float past[TAPS];            /* oldest first */
    float tap[PHASES + 1][TAPS]; /* for each place between two samples */
};

enum thrum_status thrum_upsample_create(double from_hz, double to_hz, struct thrum_upsample **upsample)
{
    *upsample = NULL;
    if (!(from_hz > 0.0 && from_hz <= 2.0 * to_hz && isfinite(to_hz)))
        return THRUM_ERR_ARG;
    struct thrum_upsample *u = calloc(1, sizeof *u);
    double *fine = malloc(sizeof *fine * (2 * SIDE * PHASES + 1));
    if (!u || !fine) {
        free(u);
        free(fine);
        return THRUM_ERR_MEM;
    }
    thrum_kaiser_lowpass(PASS / PHASES, STOP / PHASES, DOWN, SIDE * PHASES, fine);
    for (int p = 0; p <= PHASES; p++)
        for (int k = 0; k < TAPS; k++) /* sample k lies SIDE - 1 - k before the whole place */
            u->tap[p][k] = (float)(PHASES * fine[SIDE * PHASES + (SIDE - 1 - k) * PHASES + p]);
    free(fine);
    u->step = from_hz / to_hz;
    *upsample = u;
    return THRUM_OK;
}

void thrum_upsample_destroy(struct thrum_upsample *upsample)
{
    free(upsample);
}

bool thrum_upsample_wants(const struct thrum_upsample *upsample)
{
    return upsample->place >= 1.0;
}

void thrum_upsample_push(struct thrum_upsample *u, float sample)
{
    memmove(u->past, u->past + 1, sizeof u->past - sizeof *u->past);
    u->past[TAPS - 1] = sample;
    u->place -= 1.0;
}

float thrum_upsample_next(struct thrum_upsample *u)
{
    const float *tap = u->tap[(int)lrint(fmin(u->place, 1.0) * PHASES)];
    float sum = 0.0f;
    for (int k = 0; k < TAPS; k++)
        sum += tap[k] * u->past[k];
    u->place += u->step;
    return sum;
}
