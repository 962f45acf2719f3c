#include "live.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rows.h"
#include "signals.h"
#include "thrum/listen.h"
#include "thrum/units.h"

#define RATE 48000.0
#define DBFS (-40.0)
enum { BLOCK = 48 }; /* 1 ms: how finely time is told here */

/* One tone burst, and how the bar and the steady reading follow it. */
struct burst {
    double hum_db;                      /* over the tone; below -100: none */
    double mains_hz, tone_hz, low_dbfs; /* low: level of the tone before the step; the floor: no tone */
    double from_s, length_s, after_s;
};

struct followed {
    double half_rise_s; /* from the step until the bar's amplitude is half way */
    double top_db;      /* highest steady reading, less the tone's level */
    double decay_db_s;  /* of the steady reading, from 3 dB to 20 dB below its highest */
    double before_db;   /* the bar's mean amplitude just before, less the tone's level */
};

static size_t make(struct rng *rng, const struct burst *b, float **out)
{
    size_t n = (size_t)((b->from_s + b->length_s + b->after_s) * RATE);
    size_t first = (size_t)(b->from_s * RATE), end = first + (size_t)(b->length_s * RATE);
    double high = thrum_amplitude_from_db(DBFS), phase = 2.0 * THRUM_PI * rng_uniform(rng);
    double low = b->low_dbfs > THRUM_FLOOR_DBFS ? thrum_amplitude_from_db(b->low_dbfs) : 0.0;
    float *x = calloc(n, sizeof *x);
    *out = x;
    if (!x)
        return 0;
    for (size_t i = 0; i < n; i++)
        x[i] += (float)((i >= first && i < end ? high : low) *
                        cos(phase + 2.0 * THRUM_PI * b->tone_hz * (double)i / RATE));
    add_noise(rng, x, n, 1e-5);
    if (b->hum_db > -100.0) {
        struct hum hum = {.hz = b->mains_hz,
                          .wander_hz = 0.02,
                          .harmonics = 60,
                          .dbfs = DBFS + b->hum_db,
                          .wobble_db = 1.0};
        add_hum(rng, x, n, RATE, &hum);
    }
    return n;
}

static bool follow(struct rng *rng, const struct burst *b, struct followed *f)
{
    struct thrum_listener_config config = {
        .rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .bar = true};
    struct thrum_listener *listener;
    struct thrum_now now;
    float *x;
    double low = 0.0, half = 0.0, t3 = (double)NAN, t20 = (double)NAN;
    size_t n = make(rng, b, &x), before = 0;
    config.voice[0] = thrum_voice_beep(b->tone_hz, 0.25, 0.25);
    if (n == 0 || thrum_listener_create(&config, &listener)) {
        free(x);
        return false;
    }
    *f = (struct followed){.half_rise_s = (double)NAN, .top_db = -(double)INFINITY};
    for (size_t at = 0; at + BLOCK <= n; at += BLOCK) {
        double t = (double)(at + BLOCK) / RATE - b->from_s;
        thrum_listener_feed(listener, x + at, BLOCK);
        thrum_listener_now(listener, &now);
        double bar = thrum_amplitude_from_db(now.bar_dbfs[0]), steady = now.steady_dbfs[0] - DBFS;
        if (t > -0.2 && t <= 0.0) {
            low += bar;
            before++;
            half = 0.5 * (low / (double)before + thrum_amplitude_from_db(DBFS));
            f->before_db = thrum_db_from_amplitude(low / (double)before) - DBFS;
        }
        if (t > 0.0 && isnan(f->half_rise_s) && bar >= half)
            f->half_rise_s = t;
        if (t > 0.0 && t < b->length_s + 0.1)
            f->top_db = fmax(f->top_db, steady);
        if (t > b->length_s && isnan(t3) && steady < f->top_db - 3.0)
            t3 = t;
        if (t > b->length_s && isnan(t20) && steady < f->top_db - 20.0)
            t20 = t;
    }
    f->decay_db_s = 17.0 / (t20 - t3);
    thrum_listener_destroy(listener);
    free(x);
    return true;
}

static void rise(const char *what, const struct burst *like, long trials, uint64_t seed, int number)
{
    double worst = 0.0, sum = 0.0, before = 0.0;
    struct burst b = *like;
    for (long t = 0; t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        struct followed f;
        b.mains_hz = (t % 2 ? 60.0 : 50.0) + rng_between(&rng, -0.1, 0.1);
        b.tone_hz =
            (10 + (int)(12.0 * rng_uniform(&rng)) + 0.5) * b.mains_hz + rng_between(&rng, -18.0, 18.0);
        b.from_s = 4.0 + 0.1 * rng_uniform(&rng);
        if (!follow(&rng, &b, &f))
            f.half_rise_s = (double)NAN;
        worst = isnan(f.half_rise_s) ? f.half_rise_s : fmax(worst, f.half_rise_s);
        sum += f.half_rise_s / (double)trials;
        before = f.before_db;
        if (isnan(worst))
            break;
    }
    bench_at_most("M11", what, 1e3 * worst, 60.0, (struct bench_sample){trials, 0.0});
    bench_remark("mean %.1f ms; the bar stood at %+.1f dB before the step of the last one", 1e3 * sum,
                 before);
}

/* IEC 61672-1:2013 Table 4, class 1, and 5.8 (read in a transcription): bursts, F time weighting. */
static void f_weighting(uint64_t seed)
{
    static const struct {
        double s, db, above, below;
    } rows[] = {{1.0, 0.0, 0.5, 0.5},
                {0.5, -0.1, 0.5, 0.5},
                {0.2, -1.0, 0.5, 0.5},
                {0.1, -2.6, 1.0, 1.0},
                {0.05, -4.8, 1.0, 1.0}};
    struct followed f;
    for (int i = 0; i < (int)(sizeof rows / sizeof *rows); i++) {
        struct burst b = {.hum_db = -200.0,
                          .tone_hz = 1037.0,
                          .low_dbfs = THRUM_FLOOR_DBFS,
                          .from_s = 1.5,
                          .length_s = rows[i].s,
                          .after_s = 1.0};
        struct rng rng = rng_seeded(seed * 1000000007u + 609000000u + (uint64_t)i);
        char what[64];
        bool ok = follow(&rng, &b, &f);
        snprintf(what, sizeof what, "steady reading (F), burst of %.0f ms, dB", 1e3 * rows[i].s);
        bench_between("M11", what, ok ? f.top_db : (double)NAN, rows[i].db - rows[i].below,
                      rows[i].db + rows[i].above, (struct bench_sample){1, 0.0});
        if (i == 0)
            bench_between("M11", "steady reading (F), decay, dB/s", ok ? f.decay_db_s : (double)NAN, 31.0,
                          38.5, (struct bench_sample){1, 0.0});
    }
}

void bench_bar(bool full, uint64_t seed)
{
    const struct burst clear = {.hum_db = -200.0, .low_dbfs = THRUM_FLOOR_DBFS, .length_s = 0.4};
    struct burst hum = {.hum_db = 30.0, .low_dbfs = THRUM_FLOOR_DBFS, .length_s = 0.4}, step = hum;
    step.low_dbfs = DBFS - 20.0;
    step.hum_db = -200.0;
    rise("no hum, from no tone: half of the rise after, ms (most)", &clear, full ? 40 : 4, seed, 600);
    rise("no hum, step of 20 dB: half of the rise after, ms (most)", &step, full ? 40 : 4, seed, 601);
    rise("hum +30, from no tone: half of the rise after, ms (most)", &hum, full ? 40 : 6, seed, 602);
    f_weighting(seed);
}
