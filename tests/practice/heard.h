/* What the tests of the practice bundle share: making one, hearing it, measuring what was heard. */
#ifndef THRUM_TEST_HEARD_H
#define THRUM_TEST_HEARD_H

#include <stdlib.h>

#include "check.h"
#include "thrum/practice.h"

#define NOTHING 1e-12f /* samples below are silence: the clean bundle has a little noise left, at -400 dBFS */

static inline struct thrum_practice *made(const struct thrum_practice_config *config)
{
    struct thrum_practice *practice;
    assert_int_equal(thrum_practice_create(config, &practice), THRUM_OK);
    return practice;
}

/* Only the tone: no hum, noise, wobble, placement. */
static inline struct thrum_practice_config clean(uint64_t seed)
{
    struct thrum_practice_config config = thrum_practice_config_default(seed);
    config.hum_over_tone_db = -200.0;
    config.noise_dbfs = -400.0;
    config.hand_wobble_db = 0.0;
    config.placement_db = 0.0;
    config.tone_dbfs = -20.0;
    return config;
}

static inline struct thrum_voice steady(double hz)
{
    struct thrum_voice voice = {.name = "a", .n_tones = 1, .tones_hz = {hz}, .n_steps = 1, .steady = true};
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = 1.0};
    return voice;
}

static inline struct thrum_voice alternating(double a_hz, double b_hz)
{
    struct thrum_voice voice = {.name = "a", .n_tones = 2, .tones_hz = {a_hz, b_hz}, .n_steps = 2};
    voice.step[0] = (struct thrum_voice_step){.tone = 0, .s = 0.2};
    voice.step[1] = (struct thrum_voice_step){.tone = 1, .s = 0.3};
    return voice;
}

static inline float *heard(struct thrum_practice *practice, size_t n)
{
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    thrum_practice_read(practice, x, n);
    return x;
}

static inline void pass_over(struct thrum_practice *practice, size_t n)
{
    free(heard(practice, n));
}

/* Level of a stretch, full-scale sine = 0. */
static inline double level_db(const float *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return 10.0 * log10(2.0 * sum / (double)n);
}

static inline double next_level_db(struct thrum_practice *practice, size_t n)
{
    float *x = heard(practice, n);
    double db = level_db(x, n);
    free(x);
    return db;
}

/* Power of the least-squares sine at hz, as amplitude squared. */
static inline double fit(const float *x, size_t n, double hz, double rate_hz)
{
    double cc = 0.0, cs = 0.0, ss = 0.0, xc = 0.0, xs = 0.0;
    for (size_t i = 0; i < n; i++) {
        double a = 2.0 * THRUM_PI * hz * (double)i / rate_hz, c = cos(a), s = sin(a), y = (double)x[i];
        cc += c * c;
        cs += c * s;
        ss += s * s;
        xc += y * c;
        xs += y * s;
    }
    double det = cc * ss - cs * cs, p = (xc * ss - xs * cs) / det, q = (xs * cc - xc * cs) / det;
    return p * p + q * q;
}

/* Stretches of tone, parted by more than 5 ms of silence. first, end: [max]. */
static inline int beeps(const float *x, size_t n, double rate_hz, size_t *first, size_t *end, int max)
{
    int count = 0;
    size_t gap = (size_t)(0.005 * rate_hz), quiet = gap + 1;
    for (size_t i = 0; i < n; i++) {
        if (fabsf(x[i]) < NOTHING) {
            quiet++;
            continue;
        }
        if (quiet > gap && count < max)
            first[count++] = i;
        end[count - 1] = i + 1;
        quiet = 0;
    }
    return count;
}

/* Least-squares strength of the whole beeps in x, dBFS. */
static inline double measured_dbfs(const float *x, size_t n, double hz, double rate_hz)
{
    enum { MAX = 64 };
    size_t first[MAX], end[MAX];
    int count = beeps(x, n, rate_hz, first, end, MAX);
    double energy = 0.0, length = 0.0;
    assert_true(count >= 3);
    for (int k = 1; k + 1 < count; k++) {
        size_t frames = end[k] - first[k];
        energy += fit(x + first[k], frames, hz, rate_hz) * (double)frames;
        length += (double)frames;
    }
    return 10.0 * log10(energy / length);
}

#endif
