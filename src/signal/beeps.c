#include "signal/beeps.h"

#include <math.h>

struct lister {
    double from_s, to_s, longest_s;
    struct thrum_beep *beeps;
    int count, max;
};

/* `whole` is the uncut beep; its parts inside the window are added. */
static void add_parts(struct lister *lister, const struct thrum_beep *whole)
{
    double low = whole->from_s > lister->from_s ? whole->from_s : lister->from_s;
    double high = whole->to_s < lister->to_s ? whole->to_s : lister->to_s, length = high - low;
    if (high <= low)
        return;
    int parts = length <= lister->longest_s ? 1 : (int)ceil(length / lister->longest_s - 1e-9);
    parts = parts < 1 ? 1 : parts;
    for (int i = 0; i < parts && lister->count < lister->max; i++) {
        struct thrum_beep *part = &lister->beeps[lister->count++];
        *part = *whole;
        part->from_s = i == 0 ? low : low + length * i / parts;
        part->to_s = parts == 1 ? low + length : low + length * (i + 1) / parts;
        part->begins = i == 0 && low == whole->from_s;
        part->ends = i == parts - 1 && high == whole->to_s;
    }
}

int thrum_beeps_list(const struct thrum_voice *voice, const struct thrum_timing *timing, double from_s,
                     double to_s, double longest_s, struct thrum_beep *beeps, int max)
{
    struct lister lister = {from_s, to_s, longest_s, beeps, 0, max};
    if (voice->steady) {
        add_parts(&lister,
                  &(struct thrum_beep){.from_s = from_s - 1.0, .to_s = to_s + 1.0, .whole_s = to_s - from_s});
        return lister.count;
    }
    double cycle = thrum_voice_cycle_s(voice) * timing->scale;
    double origin = -timing->start_s * timing->scale; /* a pattern begins here */
    int number = (int)floor((from_s - origin) / cycle) - 1;
    for (; origin + number * cycle < to_s && lister.count < max; number++) {
        double t = origin + number * cycle;
        for (int i = 0; i < voice->n_steps; i++) {
            const struct thrum_voice_step *step = &voice->step[i];
            double end = t + step->s * timing->scale;
            const struct thrum_voice_step *next = &voice->step[(i + 1) % voice->n_steps];
            bool pause = next->tone == THRUM_SILENCE;
            if (step->tone != THRUM_SILENCE)
                add_parts(&lister, &(struct thrum_beep){.tone = step->tone,
                                                        .from_s = t,
                                                        .to_s = end + (pause ? timing->stretch_s : 0.0),
                                                        .whole_s = end - t,
                                                        .cycle = number,
                                                        .step = i,
                                                        .before_pause = pause});
            t = end;
        }
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

double thrum_beeps_mean_s(const struct thrum_voice *voice, int tone)
{
    double sum = 0.0;
    int n = 0;
    for (int i = 0; i < voice->n_steps; i++)
        if (voice->step[i].tone == tone) {
            sum += voice->step[i].s;
            n++;
        }
    return n ? sum / n : 0.0;
}

double thrum_beeps_longest_tone_s(const struct thrum_voice *voice)
{
    double most = 0.0;
    for (int i = 0; i < voice->n_steps; i++)
        if (voice->step[i].tone != THRUM_SILENCE)
            most = fmax(most, voice->step[i].s);
    return most;
}
