/* The part of the words that says what is heard. */
#include "screen/words.h"

static bool has_pause(const struct scene *scene)
{
    if (scene->sender < 0)
        return true;
    const struct thrum_voice *voice = &scene->snapshot->sender[scene->sender];
    for (int i = 0; i < voice->n_steps && i < THRUM_VOICE_STEPS; i++)
        if (voice->step[i].tone == THRUM_SILENCE)
            return true;
    return voice->n_steps == 0;
}

/* The touch in progress shows a strength, and the last seconds, half of them before it, are not enough to say whose it is. */
static bool is_unknown_tone(const struct thrum_snapshot *snapshot)
{
    bool heard = false;
    for (int i = 0; i < snapshot->so_far.n_senders; i++)
        heard = heard || snapshot->so_far.strength[i].heard;
    return snapshot->touching && heard;
}

struct heard_words {
    const char *sentence;
    const char *brief;  /* at most 22 columns */
    const char *narrow; /* at most 8 columns */
    enum thrum_ink ink;
};

static struct heard_words heard_state(const struct scene *scene)
{
    const struct thrum_now *now = &scene->snapshot->now;
    switch (now->heard) {
    case THRUM_HEARD_NOTHING_YET:
        return (struct heard_words){"nothing yet", "nothing yet", "wait", THRUM_INK_DIM};
    case THRUM_HEARD_SILENCE:
        return (struct heard_words){"digital silence - no sound reaches this input at all", "digital silence",
                                    "SILENT", THRUM_INK_ALARM};
    case THRUM_HEARD_TOO_LOW:
        return (struct heard_words){"something, but too low to use", "too low to use", "TOO LOW",
                                    THRUM_INK_WARN};
    case THRUM_HEARD_NO_TONE:
        if (is_unknown_tone(scene->snapshot))
            return (struct heard_words){"a tone, not known yet whose", "a tone", "tone?", THRUM_INK_TEXT};
        if (now->mains_hz > 0.0)
            return (struct heard_words){"only hum", "only hum", "hum", THRUM_INK_TEXT};
        return (struct heard_words){"only noise", "only noise", "noise", THRUM_INK_TEXT};
    case THRUM_HEARD_OTHER_CADENCE:
        return (struct heard_words){"a tone with another cadence", "another cadence", "NOT OURS",
                                    THRUM_INK_WARN};
    case THRUM_HEARD_TONE:
        if (has_pause(scene))
            return (struct heard_words){"the sender's beeps", "the sender's beeps", "BEEPS", THRUM_INK_GOOD};
        return (struct heard_words){"the sender's tone", "the sender's tone", "TONE", THRUM_INK_GOOD};
    case THRUM_HEARD_OVERLOAD:
        return (struct heard_words){"too loud - the input is overloaded", "too loud", "TOO LOUD",
                                    THRUM_INK_ALARM};
    }
    return (struct heard_words){"?", "?", "?", THRUM_INK_TEXT};
}

static struct heard_words heard_words(const struct scene *scene)
{
    switch (scene->facts->input_state) {
    case THRUM_INPUT_LOST:
        return (struct heard_words){"nothing - the input is lost", "the input is lost", "LOST",
                                    THRUM_INK_ALARM};
    case THRUM_INPUT_ENDED:
        return (struct heard_words){"nothing more - the sound has ended", "the sound has ended", "ended",
                                    THRUM_INK_TEXT};
    case THRUM_INPUT_WAIT:
        return (struct heard_words){"nothing yet - waiting for the input", "waiting for the input", "wait",
                                    THRUM_INK_DIM};
    case THRUM_INPUT_LIVE:
        break;
    }
    return heard_state(scene);
}

const char *words_heard(const struct scene *scene)
{
    return heard_words(scene).sentence;
}

const char *words_heard_brief(const struct scene *scene)
{
    return heard_words(scene).brief;
}

const char *words_heard_short(const struct scene *scene)
{
    return heard_words(scene).narrow;
}

enum thrum_ink words_heard_ink(const struct scene *scene)
{
    return heard_words(scene).ink;
}
