#include "commands/ears_sound.h"

#include <math.h>
#include <string.h>

#define TWO_PI     6.283185307179586
#define GUIDE_GAIN 0.15
#define CUE_GAIN   0.25
#define UNDER_CUE  0.1f
#define RAMP_S     0.005
#define GLIDE_S    0.03
#define SILENT_DB  (-110.0)

struct note {
    double hz, s;
};

/* Up: a touch is taken. Up twice: a pick stands. Low, three times: the input is lost. A note without pitch is a pause. */
static const struct note notes[][6] = {
    [EARS_NONE] = {{0.0, 0.0}},
    [EARS_TAKEN] = {{880.0, 0.08}, {1320.0, 0.08}},
    [EARS_PICKED] = {{660.0, 0.1}, {880.0, 0.1}, {1320.0, 0.2}},
    [EARS_LOST] = {{220.0, 0.15}, {0.0, 0.05}, {220.0, 0.15}, {0.0, 0.05}, {220.0, 0.15}},
};

void ears_sound_begin(struct ears_sound *s, double rate_hz)
{
    memset(s, 0, sizeof *s);
    s->rate_hz = rate_hz;
}

void ears_sound_cue(struct ears_sound *s, enum ears_cue cue)
{
    s->cue = cue;
    s->cue_at = 0;
    s->cue_phase = 0.0;
}

bool ears_sound_cueing(const struct ears_sound *s)
{
    return s->cue != EARS_NONE;
}

double ears_guide_hz(double dbfs)
{
    double limited = dbfs < -90.0 ? -90.0 : dbfs > 0.0 ? 0.0 : dbfs;
    return 220.0 * exp2((limited + 90.0) / 20.0);
}

void ears_sound_guide(struct ears_sound *s, double dbfs)
{
    s->guided = dbfs > SILENT_DB;
    if (s->guided)
        s->guide_hz = ears_guide_hz(dbfs);
}

/* The note at a place of the cue; how far into it and how much is left of it, in seconds. NULL behind the last. */
static const struct note *note_at(const struct ears_sound *s, double *in_s, double *left_s)
{
    double at_s = (double)s->cue_at / s->rate_hz;
    for (size_t i = 0; i < sizeof notes[0] / sizeof notes[0][0]; i++) {
        const struct note *note = &notes[s->cue][i];
        if (at_s < note->s) {
            *in_s = at_s;
            *left_s = note->s - at_s;
            return note;
        }
        at_s -= note->s;
    }
    return NULL;
}

static double cue_sample(struct ears_sound *s)
{
    double in_s, left_s;
    const struct note *note = note_at(s, &in_s, &left_s);
    if (!note) {
        s->cue = EARS_NONE;
        return 0.0;
    }
    double edge = fmin(1.0, fmin(in_s, left_s) / RAMP_S);
    s->cue_at++;
    s->cue_phase = fmod(s->cue_phase + note->hz / s->rate_hz, 1.0);
    return note->hz > 0.0 ? CUE_GAIN * edge * sin(TWO_PI * s->cue_phase) : 0.0;
}

static double guide_sample(struct ears_sound *s)
{
    double share = 1.0 / (GLIDE_S * s->rate_hz);
    if (s->now_gain < 1e-4)
        s->now_hz = s->guide_hz;
    s->now_hz += share * (s->guide_hz - s->now_hz);
    s->now_gain += share * ((s->guided ? GUIDE_GAIN : 0.0) - s->now_gain);
    s->phase = fmod(s->phase + s->now_hz / s->rate_hz, 1.0);
    return s->now_gain * sin(TWO_PI * s->phase);
}

void ears_sound_add(struct ears_sound *s, float *out, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        out[i] += (float)guide_sample(s);
        if (s->cue != EARS_NONE)
            out[i] = UNDER_CUE * out[i] + (float)cue_sample(s);
    }
}
