#include "commands/moved.h"

#include <math.h>
#include <stdio.h>

#define NEAREST_HZ 1.0   /* nearer it was looked for already */
#define ALIKE      0.005 /* the tones move together */
#define STEP_S     0.008 /* steps are as they were learned, within this... */
#define STEP_SHARE 0.03  /* ...or this share, whichever is more: what runs the tone may time the beeps too */

static bool same_length(double a, double b)
{
    return fabs(a - b) <= fmax(STEP_S, STEP_SHARE * fmax(a, b));
}

/* The patterns fit when the second begins `turn` steps later; which tone is which is left in as. */
static bool fits(const struct thrum_voice *learned, const struct thrum_voice *heard, int turn,
                 int as[THRUM_VOICE_TONES])
{
    for (int k = 0; k < THRUM_VOICE_TONES; k++)
        as[k] = THRUM_SILENCE;
    for (int i = 0; i < learned->n_steps; i++) {
        const struct thrum_voice_step *a = &learned->step[i], *b = &heard->step[(i + turn) % heard->n_steps];
        if ((a->tone == THRUM_SILENCE) != (b->tone == THRUM_SILENCE) || !same_length(a->s, b->s))
            return false;
        if (a->tone == THRUM_SILENCE)
            continue;
        if (as[a->tone] != THRUM_SILENCE && as[a->tone] != b->tone)
            return false;
        as[a->tone] = b->tone;
    }
    return true;
}

static bool moved_alike(const struct thrum_voice *learned, const struct thrum_voice *heard,
                        const int as[THRUM_VOICE_TONES])
{
    double first = heard->tones_hz[as[0]] / learned->tones_hz[0];
    for (int k = 0; k < learned->n_tones; k++)
        if (fabs(heard->tones_hz[as[k]] / learned->tones_hz[k] / first - 1.0) > ALIKE)
            return false;
    return fabs(first - 1.0) <= MOVED_FARTHEST &&
           fabs(heard->tones_hz[as[0]] - learned->tones_hz[0]) > NEAREST_HZ;
}

bool moved_voice(const struct thrum_voice *learned, const struct thrum_voice *heard,
                 struct thrum_voice *moved)
{
    int as[THRUM_VOICE_TONES];
    if (learned->steady || heard->steady || learned->n_tones != heard->n_tones ||
        learned->n_steps != heard->n_steps)
        return false;
    for (int turn = 0; turn < heard->n_steps; turn++) {
        if (!fits(learned, heard, turn, as) || !moved_alike(learned, heard, as))
            continue;
        *moved = *learned;
        for (int k = 0; k < learned->n_tones; k++)
            moved->tones_hz[k] = heard->tones_hz[as[k]];
        return true;
    }
    return false;
}

bool moved_within_reach(const struct thrum_voice *learned, double tone_hz)
{
    return fabs(tone_hz / learned->tones_hz[0] - 1.0) <= MOVED_FARTHEST;
}

struct thrum_voice moved_to(const struct thrum_voice *learned, double tone_hz)
{
    struct thrum_voice moved = *learned;
    for (int k = 0; k < moved.n_tones; k++)
        moved.tones_hz[k] *= tone_hz / learned->tones_hz[0];
    return moved;
}

void moved_text(const struct thrum_voice *learned, const struct thrum_voice *moved, char *text, size_t size)
{
    double percent = 100.0 * (moved->tones_hz[0] / learned->tones_hz[0] - 1.0);
    snprintf(text, size, "the sender is at %.0f Hz, %.1f %% %s the %.0f Hz it was learned at (its battery?)",
             moved->tones_hz[0], fabs(percent), percent < 0.0 ? "below" : "above", learned->tones_hz[0]);
}
