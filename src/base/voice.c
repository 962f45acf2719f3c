#include "thrum/voice.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "thrum/units.h"

static const char *tones_wrong(const struct thrum_voice *voice)
{
    if (voice->n_tones < 1 || voice->n_tones > THRUM_VOICE_TONES)
        return "a voice has 1 to 8 tones";
    for (int i = 0; i < voice->n_tones; i++)
        if (!(voice->tones_hz[i] >= THRUM_TONE_MIN_HZ && voice->tones_hz[i] <= THRUM_TONE_MAX_HZ))
            return "a tone must lie between 300 and 3400 Hz";
    return NULL;
}

static const char *steps_wrong(const struct thrum_voice *voice)
{
    unsigned used = 0;
    if (voice->n_steps < 1 || voice->n_steps > THRUM_VOICE_STEPS)
        return "a pattern has 1 to 24 steps";
    for (int i = 0; i < voice->n_steps; i++) {
        const struct thrum_voice_step *step = &voice->step[i];
        if (!(step->s >= 0.01 && step->s <= 60.0))
            return "a step of the pattern lasts 0.01 to 60 s";
        if (step->tone != THRUM_SILENCE && (step->tone < 0 || step->tone >= voice->n_tones))
            return "a step of the pattern names a tone that is not in the list";
        if (step->tone != THRUM_SILENCE)
            used |= 1u << step->tone;
        if (voice->n_steps > 1 && step->tone == voice->step[(i + 1) % voice->n_steps].tone)
            return "two neighbouring steps of the pattern are alike";
    }
    if (used != (1u << voice->n_tones) - 1u)
        return "a tone in the list is not used in the pattern";
    return NULL;
}

enum thrum_status thrum_voice_check(const struct thrum_voice *voice, const char **reason)
{
    const char *wrong = tones_wrong(voice);
    if (!wrong)
        wrong = steps_wrong(voice);
    if (!wrong && voice->steady != (voice->n_steps == 1))
        wrong = "only a pattern of one single step is steady";
    if (reason)
        *reason = wrong;
    return wrong ? THRUM_ERR_ARG : THRUM_OK;
}

struct thrum_voice thrum_voice_beep(double tone_hz, double on_s, double off_s)
{
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .n_steps = 2, .level_dbfs = THRUM_FLOOR_DBFS};
    voice.tones_hz[0] = tone_hz;
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = on_s};
    voice.step[1] = (struct thrum_voice_step){.tone = THRUM_SILENCE, .s = off_s};
    return voice;
}

double thrum_voice_cycle_s(const struct thrum_voice *voice)
{
    double sum = 0.0;
    for (int i = 0; i < voice->n_steps; i++)
        sum += voice->step[i].s;
    return sum;
}

double thrum_voice_on_s(const struct thrum_voice *voice)
{
    double sum = 0.0;
    for (int i = 0; i < voice->n_steps; i++)
        if (voice->step[i].tone != THRUM_SILENCE)
            sum += voice->step[i].s;
    return sum;
}
