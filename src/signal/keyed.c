#include "signal/keyed.h"

#include <math.h>

#include "thrum/units.h"

#define RAMP_S 5e-3

void thrum_keyed_start(struct thrum_keyed *keyed, const struct thrum_voice *voice, double rate_hz,
                       double dbfs)
{
    *keyed = (struct thrum_keyed){.voice = *voice,
                                  .rate_hz = rate_hz,
                                  .amplitude = thrum_amplitude_from_db(dbfs),
                                  .ramp_s = RAMP_S,
                                  .cycle_s = thrum_voice_cycle_s(voice)};
    for (int i = 0; i < voice->n_steps; i++)
        keyed->ramp_s = fmin(keyed->ramp_s, 0.5 * voice->step[i].s);
}

/* One step of the pattern, t seconds after its beginning; its end is heard for ramp_s longer. */
static double step_sound(const struct thrum_keyed *k, int step, double t)
{
    int tone = k->voice.step[step].tone;
    double after = t - k->voice.step[step].s, gate = 1.0;
    if (tone == THRUM_SILENCE || after >= k->ramp_s)
        return 0.0;
    if (t < k->ramp_s)
        gate = sin(0.5 * THRUM_PI * t / k->ramp_s);
    else if (after > 0.0)
        gate = cos(0.5 * THRUM_PI * after / k->ramp_s);
    return gate * gate * sin(2.0 * THRUM_PI * k->voice.tones_hz[tone] * t);
}

static double steady_sound(const struct thrum_keyed *k)
{
    double turns = k->voice.tones_hz[0] * ((double)k->frame / k->rate_hz);
    return sin(2.0 * THRUM_PI * (turns - floor(turns)));
}

static double sound(const struct thrum_keyed *k)
{
    if (k->voice.n_steps == 1)
        return steady_sound(k);
    double t = fmod((double)k->frame / k->rate_hz, k->cycle_s);
    int step = 0;
    while (step + 1 < k->voice.n_steps && t >= k->voice.step[step].s)
        t -= k->voice.step[step++].s;
    int before = (step + k->voice.n_steps - 1) % k->voice.n_steps;
    return step_sound(k, step, t) + step_sound(k, before, t + k->voice.step[before].s);
}

void thrum_keyed_make(struct thrum_keyed *keyed, float *samples, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        samples[i] = (float)(keyed->amplitude * sound(keyed));
        keyed->frame++;
    }
}

uint64_t thrum_keyed_whole_frames(const struct thrum_keyed *keyed, double seconds)
{
    /* A steady tone repeats after whole seconds when its frequency is whole; there is nothing better for others. */
    double unit = keyed->voice.n_steps == 1 ? 1.0 : keyed->cycle_s;
    return (uint64_t)llround(fmax(1.0, round(seconds / unit)) * unit * keyed->rate_hz);
}
