#include "practice/spoil.h"

#include <math.h> /* only sqrt, fmin, fmax and fabs, which are exact everywhere */
#include <stddef.h>
#include <string.h>

#include "practice/exact.h"

enum { QUIET_FRAMES = 16 }; /* so many zeros in a row are a pause and no crossing of the wave */

#define ATTACK_S      0.01 /* of the level control; ratio 4 */
#define RELEASE_S     0.4
#define TARGET        0.0316 /* power that it tends to: -12 dBFS */
#define MOST_GAIN     30.0   /* amplitude */
#define GATE_FOLLOW_S 0.005
#define GATE_HOLD_S   0.03
#define GATE_UNDER_DB 6.0 /* under the level of tone and hum together it shuts */
#define FADE_S        0.4 /* of a beep that is taken for noise */
#define WAKE_S        0.1
#define LEAST_TONE    0.01
#define NOISE_LEFT    0.1
#define CLIP_DB       6.0 /* under the tallest tops */
#define OFFSET        0.05
#define REPEAT_EACH_S 0.9
#define REPEAT_S      0.01

static const char *const names[THRUM_PRACTICE_FAULTS] = {"none",    "gain-riding", "gated",  "suppressed",
                                                         "clipped", "dc",          "silent", "lost"};

const char *thrum_practice_fault_name(enum thrum_practice_fault fault)
{
    return (int)fault >= 0 && fault < THRUM_PRACTICE_FAULTS ? names[fault] : NULL;
}

bool thrum_practice_fault_find(const char *name, enum thrum_practice_fault *fault)
{
    for (int i = 0; i < THRUM_PRACTICE_FAULTS; i++)
        if (strcmp(name, names[i]) == 0) {
            *fault = (enum thrum_practice_fault)i;
            return true;
        }
    return false;
}

static double per_frame(double seconds, double rate_hz)
{
    return 1.0 - exact_exp(-1.0 / (seconds * rate_hz));
}

void spoil_start(struct spoil *spoil, const struct thrum_practice_config *config)
{
    double tone = exact_amplitude(config->tone_dbfs);
    double hum = tone * exact_amplitude(fmax(config->hum_over_tone_db, -100.0)), rate_hz = config->rate_hz;
    bool gate = config->fault == THRUM_PRACTICE_GATED;
    *spoil = (struct spoil){.fault = config->fault,
                            .rise = per_frame(gate ? GATE_FOLLOW_S : ATTACK_S, rate_hz),
                            .fall = per_frame(gate ? GATE_FOLLOW_S : RELEASE_S, rate_hz),
                            .power = 0.5 * (tone * tone + hum * hum),
                            .fade = per_frame(FADE_S, rate_hz),
                            .wake = per_frame(WAKE_S, rate_hz),
                            .tone_gain = 1.0,
                            .hold = (int)(GATE_HOLD_S * rate_hz),
                            .period = (int)(REPEAT_EACH_S * rate_hz),
                            .size = (int)(REPEAT_S * rate_hz)};
    spoil->size = spoil->size < PRACTICE_REPEAT ? spoil->size : PRACTICE_REPEAT;
    spoil->limit = gate ? sqrt(tone * tone + hum * hum) * exact_amplitude(-GATE_UNDER_DB)
                        : (tone + 2.0 * hum) * exact_amplitude(-CLIP_DB);
}

void spoil_parts(struct spoil *spoil, double *tone, double *hum, double *noise)
{
    if (spoil->fault != THRUM_PRACTICE_SUPPRESSED)
        return;
    spoil->silent = fabs(*tone) > 0.0 ? 0 : spoil->silent + 1;
    if (spoil->silent > QUIET_FRAMES)
        spoil->tone_gain += spoil->wake * (1.0 - spoil->tone_gain);
    else
        spoil->tone_gain += spoil->fade * (LEAST_TONE - spoil->tone_gain);
    *tone *= spoil->tone_gain;
    *hum *= NOISE_LEFT;
    *noise *= NOISE_LEFT;
}

static void follow(struct spoil *spoil, double x)
{
    double power = x * x;
    spoil->power += (power > spoil->power ? spoil->rise : spoil->fall) * (power - spoil->power);
}

/* Ratio 4: the gain is the 3/8th power of target over level. */
static double ride(struct spoil *spoil, double x)
{
    follow(spoil, x);
    double quarter = sqrt(sqrt(TARGET / fmax(spoil->power, 1e-12)));
    return x * fmin(quarter * sqrt(quarter), MOST_GAIN);
}

static double gate(struct spoil *spoil, double x)
{
    follow(spoil, x);
    spoil->held = 2.0 * spoil->power > spoil->limit * spoil->limit ? spoil->hold : spoil->held - 1;
    spoil->held = spoil->held > -1 ? spoil->held : -1;
    return spoil->held >= 0 ? x : 0.0;
}

/* Now and then a buffer comes twice, and the next one is lost. */
static double repeat(struct spoil *spoil, double x)
{
    int at = spoil->at++;
    if (spoil->at == spoil->period)
        spoil->at = 0;
    if (at < spoil->size)
        spoil->buffer[at] = (float)x;
    else if (at < 2 * spoil->size)
        return (double)spoil->buffer[at - spoil->size];
    return at < spoil->size ? (double)spoil->buffer[at] : x;
}

double spoil_frame(struct spoil *spoil, double x)
{
    switch (spoil->fault) {
    case THRUM_PRACTICE_GAIN_RIDING:
        return ride(spoil, x);
    case THRUM_PRACTICE_GATED:
        return gate(spoil, x);
    case THRUM_PRACTICE_CLIPPED:
        return fmin(fmax(x, -spoil->limit), spoil->limit);
    case THRUM_PRACTICE_DC:
        return x + OFFSET;
    case THRUM_PRACTICE_SILENT:
        return 0.0;
    case THRUM_PRACTICE_LOST:
        return repeat(spoil, x);
    case THRUM_PRACTICE_NO_FAULT:
    case THRUM_PRACTICE_SUPPRESSED:
    case THRUM_PRACTICE_FAULTS:
        break;
    }
    return x;
}
