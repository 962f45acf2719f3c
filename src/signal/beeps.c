#include "signal/beeps.h"

#include <math.h>

struct lister {
    double from_s, to_s, longest_s;
    struct thrum_beep *beeps;
    int count, max;
};

static void add_parts(struct lister *lister, int tone, double from_s, double to_s)
{
    double whole = to_s - from_s;
    double low = fmax(from_s, lister->from_s), high = fmin(to_s, lister->to_s);
    if (high <= low)
        return;
    int parts = (int)ceil((high - low) / lister->longest_s - 1e-9);
    parts = parts < 1 ? 1 : parts;
    for (int i = 0; i < parts && lister->count < lister->max; i++) {
        double a = low + (high - low) * i / parts, b = low + (high - low) * (i + 1) / parts;
        lister->beeps[lister->count++] = (struct thrum_beep){.tone = tone, .from_s = a, .to_s = b, .whole_s = whole};
    }
}

int thrum_beeps_list(const struct thrum_voice *voice, const struct thrum_timing *timing, double from_s, double to_s,
                     double longest_s, struct thrum_beep *beeps, int max)
{
    struct lister lister = {from_s, to_s, longest_s, beeps, 0, max};
    if (voice->steady) {
        add_parts(&lister, 0, from_s, to_s);
        return lister.count;
    }
    double cycle = thrum_voice_cycle_s(voice) * timing->scale;
    double origin = -timing->start_s * timing->scale; /* a pattern begins here */
    double at = origin + floor((from_s - origin) / cycle - 1.0) * cycle;
    while (at < to_s && lister.count < max) {
        double t = at;
        for (int i = 0; i < voice->n_steps; i++) {
            const struct thrum_voice_step *step = &voice->step[i];
            double end = t + step->s * timing->scale;
            const struct thrum_voice_step *next = &voice->step[(i + 1) % voice->n_steps];
            if (step->tone != THRUM_SILENCE)
                add_parts(&lister, step->tone, t, end + (next->tone == THRUM_SILENCE ? timing->stretch_s : 0.0));
            t = end;
        }
        at += cycle;
    }
    return lister.count;
}

double thrum_beeps_shortest_s(const struct thrum_voice *voice)
{
    double least = voice->step[0].s;
    for (int i = 1; i < voice->n_steps; i++)
        least = fmin(least, voice->step[i].s);
    return least;
}

double thrum_beeps_longest_tone_s(const struct thrum_voice *voice)
{
    double most = 0.0;
    for (int i = 0; i < voice->n_steps; i++)
        if (voice->step[i].tone != THRUM_SILENCE)
            most = fmax(most, voice->step[i].s);
    return most;
}
