#include "signals.h"

#include <math.h>
#include <stdlib.h>

#include "base/wide.h"
#include "thrum/units.h"

static uint64_t scramble(uint64_t z) /* splitmix64's finish */
{
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* Scrambled, or neighbouring seeds would give one and the same sequence, shifted by one. */
struct rng rng_seeded(uint64_t seed)
{
    return (struct rng){scramble(seed + 0x1234567u)};
}

static uint64_t rng_next(struct rng *rng)
{
    return scramble(rng->state += 0x9E3779B97F4A7C15u);
}

double rng_uniform(struct rng *rng)
{
    return (double)(rng_next(rng) >> 11) * 0x1p-53;
}

double rng_normal(struct rng *rng)
{
    double u = 1.0 - rng_uniform(rng);
    return sqrt(-2.0 * log(u)) * cos(2.0 * THRUM_PI * rng_uniform(rng));
}

double rng_between(struct rng *rng, double low, double high)
{
    return low + (high - low) * rng_uniform(rng);
}

void add_noise(struct rng *rng, float *x, size_t n, double sd)
{
    for (size_t i = 0; i < n; i++)
        x[i] += (float)(sd * rng_normal(rng));
}

void add_dc(float *x, size_t n, double value)
{
    for (size_t i = 0; i < n; i++)
        x[i] += (float)value;
}

/* A slow random curve: first-order, unit variance, then smoothed once more so that it has no corners. */
struct slow {
    double fast, value, a, gain;
};

static struct slow slow_start(struct rng *rng, double rate_hz, double correlation_s)
{
    /* two equal poles: variance of the cascade is (1 - a^2)^2 (1 + a^2) / (1 - a^2)^3 * ... kept by `gain` */
    double a = exp(-2.0 / (rate_hz * correlation_s));
    double variance = (1.0 + a * a) / pow(1.0 - a * a, 3.0) * pow(1.0 - a, 4.0);
    struct slow slow = {.a = a, .gain = 1.0 / sqrt(variance)};
    slow.fast = rng_normal(rng) * sqrt((1.0 - a) / (1.0 + a));
    slow.value = rng_normal(rng) / slow.gain;
    return slow;
}

static double slow_next(struct slow *slow, struct rng *rng)
{
    slow->fast = slow->a * slow->fast + (1.0 - slow->a) * rng_normal(rng);
    slow->value = slow->a * slow->value + (1.0 - slow->a) * slow->fast;
    return slow->value * slow->gain;
}

enum { CONTROL = 32 }; /* slow curves move every so many samples, straight lines between */

static int step_at(const struct thrum_voice *voice, double t, double *since)
{
    t = fmod(t, thrum_voice_cycle_s(voice));
    for (int i = 0; i < voice->n_steps; i++) {
        if (t < voice->step[i].s) {
            *since = t;
            return i;
        }
        t -= voice->step[i].s;
    }
    *since = 0.0;
    return 0;
}

static double wave(const struct sender *sender, double phase, double hz, double rate_hz)
{
    double y = cos(phase);
    if (sender->square && sender->folded)
        return y < 0.0 ? -THRUM_PI / 4.0 : THRUM_PI / 4.0;
    if (sender->square)
        for (int h = 3; h * hz < 0.49 * rate_hz; h += 2)
            y += cos(h * phase) / h * ((h % 4 == 3) ? -1.0 : 1.0);
    return y;
}

double add_sender(struct rng *rng, float *x, size_t n, double rate_hz, const struct sender *sender)
{
    const struct thrum_voice *voice = &sender->voice;
    struct slow wobble = slow_start(rng, rate_hz / CONTROL, 1.0);
    double level = slow_next(&wobble, rng), next = slow_next(&wobble, rng);
    double phase[THRUM_VOICE_TONES], energy = 0.0, db = sender->dbfs, amplitude = thrum_amplitude_from_db(db);
    size_t on = 0;
    int last = -1;
    for (int k = 0; k < THRUM_VOICE_TONES; k++)
        phase[k] = 2.0 * THRUM_PI * rng_uniform(rng);
    for (size_t i = 0; i < n; i++) {
        double t = (double)i / rate_hz, since;
        int step = step_at(voice, t + sender->start_s, &since);
        int tone = voice->step[step].tone;
        if (i % CONTROL == 0 && i > 0) {
            level = next;
            next = slow_next(&wobble, rng);
        }
        for (int k = 0; k < voice->n_tones; k++)
            phase[k] += 2.0 * THRUM_PI *
                        (voice->tones_hz[k] + sender->offset_hz + sender->drift_hz_per_s * t) / rate_hz;
        if (step != last && !sender->keep_phase && tone >= 0)
            phase[tone] = 2.0 * THRUM_PI * rng_uniform(rng);
        last = step;
        if (tone < 0)
            continue;
        double between = (double)(i % CONTROL) / CONTROL;
        double now_db = sender->dbfs + sender->wobble_db * (level + (next - level) * between);
        amplitude = now_db == db ? amplitude : thrum_amplitude_from_db(now_db);
        db = now_db;
        x[i] += (float)(amplitude * wave(sender, phase[tone], voice->tones_hz[tone], rate_hz));
        energy += amplitude * amplitude;
        on++;
    }
    return on ? thrum_db_from_power(energy / (double)on) : THRUM_FLOOR_DBFS;
}

/* The turn of the mains and that of the harmonic at hand, sample by sample. */
struct turns {
    double *once_re, *once_im, *re, *im;
};

/* At most CONTROL samples of one harmonic, whose gain goes from `from` towards `to`; then all turns once further. */
THRUM_WIDE static void add_stretch(float *restrict x, size_t n, struct turns t, double re, double im,
                                   double amplitude, double from, double to)
{
    double *restrict now_re = t.re, *restrict now_im = t.im;
    const double *restrict once_re = t.once_re, *restrict once_im = t.once_im;
    for (size_t i = 0; i < n; i++) {
        double a = now_re[i] * once_re[i] - now_im[i] * once_im[i];
        double b = now_re[i] * once_im[i] + now_im[i] * once_re[i];
        double gain = from + (to - from) * (double)(int)i / CONTROL;
        now_re[i] = a;
        now_im[i] = b;
        x[i] += (float)(amplitude * gain * (a * re - b * im));
    }
}

static void add_harmonic(struct rng *rng, float *x, size_t n, double rate_hz, double amplitude,
                         double wobble_db, struct turns t)
{
    struct slow wobble = slow_start(rng, rate_hz / CONTROL, 1.0);
    double level = slow_next(&wobble, rng), next = slow_next(&wobble, rng);
    double offset = 2.0 * THRUM_PI * rng_uniform(rng), re = cos(offset), im = sin(offset);
    double from, to = thrum_amplitude_from_db(wobble_db * level);
    for (size_t at = 0; at < n; at += CONTROL) {
        size_t few = n - at < CONTROL ? n - at : CONTROL;
        struct turns here = {t.once_re + at, t.once_im + at, t.re + at, t.im + at};
        from = to;
        to = thrum_amplitude_from_db(wobble_db * next);
        next = slow_next(&wobble, rng);
        add_stretch(x + at, few, here, re, im, amplitude, from, to);
    }
}

/* One phase curve for all harmonics; each is the one before, turned once more. */
static void make_turns(struct rng *rng, size_t n, double rate_hz, const struct hum *hum, struct turns t)
{
    struct slow wander = slow_start(rng, rate_hz / CONTROL, 5.0);
    double at = 0.0, now = 0.0;
    for (size_t i = 0; i < n; i++) {
        if (i % CONTROL == 0)
            now = slow_next(&wander, rng);
        at += 2.0 * THRUM_PI * (hum->hz + hum->slope_hz_s * (double)i / rate_hz + hum->wander_hz * now) /
              rate_hz;
        t.once_re[i] = cos(at);
        t.once_im[i] = sin(at);
        t.re[i] = 1.0;
        t.im[i] = 0.0;
    }
}

void add_hum(struct rng *rng, float *x, size_t n, double rate_hz, const struct hum *hum)
{
    double power = 0.0, *room = malloc(4 * n * sizeof *room + 1);
    for (int h = 1; h <= hum->harmonics; h++)
        power += (h % 2 ? 1.0 : 0.1) / h;
    double scale = thrum_amplitude_from_db(hum->dbfs) / sqrt(power);
    if (!room)
        abort();
    struct turns t = {room, room + n, room + 2 * n, room + 3 * n};
    make_turns(rng, n, rate_hz, hum, t);
    for (int h = 1; h <= hum->harmonics && h * hum->hz < 0.49 * rate_hz; h++)
        add_harmonic(rng, x, n, rate_hz, scale * sqrt((h % 2 ? 1.0 : 0.1) / h), hum->wobble_db, t);
    free(room);
}
