#include "practice/sender.h"

#include <math.h> /* only ceil, floor, fmin and fmax, which are exact everywhere */

#include "practice/exact.h"

static double cycle_time_s(const struct sender *sender, double in_cycle_s)
{
    return (double)sender->cycles * sender->cycle_s + in_cycle_s - sender->before_s;
}

/* The first frame at or after the end of the present step. */
static uint64_t step_end_frame(const struct sender *sender)
{
    return (uint64_t)fmax(0.0, ceil(cycle_time_s(sender, sender->step_end_s) * sender->rate_hz));
}

static void begin_step(struct sender *sender)
{
    int tone = sender->voice.step[sender->step].tone;
    sender->next_step = sender->voice.n_steps == 1 ? UINT64_MAX : step_end_frame(sender);
    if (tone != THRUM_SILENCE)
        sender->turns = sender->start_turns[tone];
}

static void advance_step(struct sender *sender)
{
    sender->step++;
    if (sender->step == sender->voice.n_steps) {
        sender->step = 0;
        sender->cycles++;
        sender->step_end_s = 0.0;
    }
    sender->step_end_s += sender->voice.step[sender->step].s;
    begin_step(sender);
}

void sender_start(struct sender *sender, const struct thrum_practice_config *config,
                  const struct thrum_voice *voice, struct dice *dice)
{
    *sender = (struct sender){.voice = *voice,
                              .square = config->square,
                              .rate_hz = config->rate_hz,
                              .drift_hz_per_s = config->drift_hz_per_s,
                              .cycle_s = thrum_voice_cycle_s(voice)};
    for (int k = 0; k < THRUM_VOICE_TONES; k++)
        sender->start_turns[k] = dice_uniform(dice);
    sender->before_s = dice_uniform(dice) * sender->cycle_s;
    sender->step_end_s = sender->voice.step[0].s;
    begin_step(sender);
    while (sender->next_step == 0)
        advance_step(sender);
}

/* The tone now: it drifts, but stays a tone. */
static double tone_hz(const struct sender *sender, int tone)
{
    double hz =
        sender->voice.tones_hz[tone] + sender->drift_hz_per_s * ((double)sender->frame / sender->rate_hz);
    return fmin(fmax(hz, 0.5 * THRUM_TONE_MIN_HZ), PRACTICE_BAND * sender->rate_hz);
}

/* A square wave without what the sample rate cannot carry: the sum of sin(h a)/h over odd h, fundamental 1,
   by Clenshaw's recurrence. c, s: cosine and sine of a. */
static double square_wave(double c, double s, int highest)
{
    double x = 2.0 * (c * c - s * s), b1 = 0.0, b2 = 0.0;
    for (int h = highest; h >= 1; h -= 2) {
        double b = 1.0 / h + x * b1 - b2;
        b2 = b1;
        b1 = b;
    }
    return s * (b1 + b2);
}

static void make_tone(struct sender *sender, int tone, double *wave, int n)
{
    double hz = tone_hz(sender, tone), c, s, turn_c, turn_s;
    int highest = (int)(PRACTICE_BAND * sender->rate_hz / hz);
    highest -= highest % 2 == 0 ? 1 : 0;
    exact_cos_sin(sender->turns, &c, &s);
    exact_cos_sin(hz / sender->rate_hz, &turn_c, &turn_s);
    for (int i = 0; i < n; i++) {
        wave[i] = sender->square ? square_wave(c, s, highest) : s;
        double next = c * turn_c - s * turn_s;
        s = s * turn_c + c * turn_s;
        c = next;
    }
    sender->turns += n * (hz / sender->rate_hz);
    sender->turns -= floor(sender->turns);
}

void sender_make(struct sender *sender, double *wave, signed char *tone)
{
    int done = 0;
    while (done < PRACTICE_BLOCK) {
        while (sender->frame == sender->next_step)
            advance_step(sender);
        uint64_t left = sender->next_step - sender->frame;
        int n = left < (uint64_t)(PRACTICE_BLOCK - done) ? (int)left : PRACTICE_BLOCK - done;
        int now = sender->voice.step[sender->step].tone;
        for (int i = done; i < done + n; i++) {
            tone[i] = (signed char)(now == THRUM_SILENCE ? 0 : now);
            wave[i] = 0.0;
        }
        if (now != THRUM_SILENCE)
            make_tone(sender, now, wave + done, n);
        sender->frame += (uint64_t)n;
        done += n;
    }
}
