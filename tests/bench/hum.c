#include "hum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "rows.h"
#include "signal/clean.h"
#include "signal/mains.h"
#include "signals.h"
#include "thrum/units.h"

#define RATE 8000.0

struct errors {
    long n, missed;
    double worst, worst_hz, squares;
};

static void count(struct errors *e, const struct thrum_mains_value *found, double truth)
{
    double error = found->hz - truth;
    e->n++;
    if (!found->found) {
        e->missed++;
        return;
    }
    e->squares += error * error;
    if (fabs(error) > e->worst) {
        e->worst = fabs(error);
        e->worst_hz = truth;
    }
}

static void report(const char *what, const struct errors *e)
{
    long n = e->n - e->missed;
    bench_at_most("M9", what, e->missed ? (double)NAN : 1e3 * e->worst, 10.0,
                  (struct bench_sample){e->n, 0.0});
    bench_remark("RMS error %.6f Hz; largest %.6f at %.3f Hz; not found %ld times",
                 sqrt(e->squares / (double)n), e->worst, e->worst_hz, e->missed);
}

/* Hum 60 harmonics strong, 1 dB wobble, 20 dB over a beep; noise 20 dB below the beep. */
static void make(struct rng *rng, float *x, size_t n, double hz, double slope)
{
    struct hum hum = {.hz = hz, .slope_hz_s = slope, .harmonics = 60, .dbfs = -25.0, .wobble_db = 1.0};
    struct sender sender = {.voice = thrum_voice_beep(1037.0, 0.25, 0.25), .dbfs = -45.0};
    memset(x, 0, n * sizeof *x);
    add_sender(rng, x, n, RATE, &sender);
    add_hum(rng, x, n, RATE, &hum);
    add_noise(rng, x, n, thrum_amplitude_from_db(-68.0));
}

static void measured(const char *what, double slope, long trials, uint64_t seed)
{
    enum { N = 80000 };
    static const double tone_hz[] = {1037.0};
    struct errors errors = {0};
    struct thrum_mains_value found[THRUM_MAINS_MAX];
    struct thrum_mains *mains = NULL;
    float *x = malloc(N * sizeof *x);
    if (x && !thrum_mains_create(RATE, &mains))
        for (long t = 0; t < trials; t++) {
            struct rng rng = rng_seeded(seed * 1000000007u + 500000000u + (uint64_t)t);
            double hz = 45.2 + 20.6 * ((double)t + rng_uniform(&rng)) / (double)trials;
            double signed_slope = t % 2 ? slope : -slope;
            make(&rng, x, N, hz, signed_slope);
            thrum_mains_avoid(mains, tone_hz, NULL, 1);
            thrum_mains_measure(mains, x, N, found);
            count(&errors, &found[0], hz + signed_slope * 5.0); /* hz is that of the middle */
        }
    thrum_mains_destroy(mains);
    free(x);
    report(what, &errors);
}

/* The tracker's answer at every 0.4 s from the tenth second on, against the frequency at that moment. */
static void tracked(long trials, uint64_t seed)
{
    enum { N = 160000, STEP = 3200 };
    static const double tone_hz[] = {1037.0};
    struct errors errors = {0};
    struct thrum_mains_value found[THRUM_MAINS_MAX];
    float *x = malloc(N * sizeof *x);
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 501000000u + (uint64_t)t);
        struct thrum_mains_tracker *tracker;
        double hz = 45.4 + 20.2 * ((double)t + rng_uniform(&rng)) / (double)trials,
               slope = t % 2 ? 0.02 : -0.02;
        if (thrum_mains_tracker_create(RATE, &tracker))
            break;
        thrum_mains_tracker_avoid(tracker, tone_hz, 1);
        make(&rng, x, N, hz, slope);
        for (size_t at = 0; at < N; at += STEP) {
            thrum_mains_tracker_feed(tracker, x + at, STEP);
            if (at + STEP >= (size_t)(10.0 * RATE)) {
                thrum_mains_tracker_now(tracker, found);
                count(&errors, &found[0], hz + slope * (double)(at + STEP) / RATE);
            }
        }
        thrum_mains_tracker_destroy(tracker);
    }
    free(x);
    report("tracked through 0.02 Hz/s: largest error, mHz", &errors);
}

void bench_mains(bool full, uint64_t seed)
{
    measured("10 s, 45 to 66 Hz, steady: largest error, mHz", 0.0, full ? 400 : 24, seed);
    measured("10 s, 45 to 66 Hz, 0.02 Hz/s: largest error, mHz", 0.02, full ? 400 : 24, seed);
    tracked(full ? 100 : 6, seed);
}

static double power(const float *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return sum;
}

static bool clean(const float *x, float *y, size_t n, double tone_hz)
{
    struct thrum_clean_config config = thrum_clean_config_default(RATE);
    struct thrum_clean *cleaner;
    config.n_tones = tone_hz > 0.0;
    config.tones_hz[0] = tone_hz;
    if (thrum_clean_create(&config, &cleaner))
        return false;
    thrum_clean_feed(cleaner, x, y, n);
    thrum_clean_destroy(cleaner);
    return true;
}

struct cleaning {
    const char *what;
    double wander_hz, wobble_db, off_hz, limit_db;
};

enum { SECONDS = 20, SETTLED = 5 * 8000, LONG = SECONDS * 8000 };

/* How much less hum comes out than went in, from the fifth second on: the least of all trials. */
static void hum_left(const struct cleaning *c, long trials, uint64_t seed, int number)
{
    double least = (double)INFINITY, sum = 0.0, least_hz = 0.0, least_tone = 0.0;
    float *x = malloc(LONG * sizeof *x), *y = malloc(LONG * sizeof *y);
    for (long t = 0; x && y && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        struct hum hum = {.hz = (t % 2 ? 60.0 : 50.0) + rng_between(&rng, -0.1, 0.1),
                          .wander_hz = c->wander_hz,
                          .harmonics = 60,
                          .dbfs = -20.0,
                          .wobble_db = c->wobble_db};
        double tone = c->off_hz > 0.0 ? (8 + (int)(t % 15)) * hum.hz + c->off_hz : 0.0;
        memset(x, 0, LONG * sizeof *x);
        add_hum(&rng, x, LONG, RATE, &hum);
        add_noise(&rng, x, LONG, 1e-6);
        if (!clean(x, y, LONG, tone))
            break;
        double less =
            thrum_db_from_power(power(x + SETTLED, LONG - SETTLED) / power(y + SETTLED, LONG - SETTLED));
        sum += less / (double)trials;
        if (less < least) {
            least = less;
            least_hz = hum.hz;
            least_tone = tone;
        }
    }
    free(x);
    free(y);
    bench_at_least("M10", c->what, least, c->limit_db, (struct bench_sample){trials, 0.0});
    bench_remark("mean %.1f dB; least %.1f dB at mains %.3f Hz, tone named %.2f Hz", sum, least, least_hz,
                 least_tone);
}

/* The change of a beep that lies beside a harmonic, by projection of the cleaned sound on the beep that went in; hum
 * 20 dB over it. */
static void tone_changed(const char *what, double on_s, double off_hz, long trials, uint64_t seed, int number)
{
    double worst = 0.0, worst_hz = 0.0, worst_tone = 0.0;
    float *x = malloc(LONG * sizeof *x), *y = malloc(LONG * sizeof *y), *s = malloc(LONG * sizeof *s);
    for (long t = 0; x && y && s && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        struct hum hum = {
            .hz = (t % 2 ? 60.0 : 50.0) + rng_between(&rng, -0.1, 0.1), .harmonics = 60, .dbfs = -20.0};
        double tone = (8 + (int)(t / 2) % 15) * hum.hz + (t % 4 < 2 ? off_hz : -off_hz), dot = 0.0;
        struct sender sender = {.voice = thrum_voice_beep(tone, on_s, on_s), .dbfs = -40.0};
        memset(s, 0, LONG * sizeof *s);
        add_sender(&rng, s, LONG, RATE, &sender);
        memcpy(x, s, LONG * sizeof *x);
        add_hum(&rng, x, LONG, RATE, &hum);
        if (!clean(x, y, LONG, tone))
            break;
        for (size_t i = SETTLED; i < LONG; i++)
            dot += (double)y[i] * (double)s[i];
        double db = thrum_db_from_amplitude(dot / power(s + SETTLED, LONG - SETTLED));
        if (fabs(db) > fabs(worst)) {
            worst = db;
            worst_hz = hum.hz;
            worst_tone = tone;
        }
    }
    free(x);
    free(y);
    free(s);
    bench_at_most("M10", what, fabs(worst), 0.1, (struct bench_sample){trials, 0.0});
    bench_remark("%+.3f dB at mains %.3f Hz, tone %.2f Hz", worst, worst_hz, worst_tone);
}

void bench_cleaning(bool full, uint64_t seed)
{
    static const struct cleaning cases[] = {
        {"steady hum: less by, dB (least)", 0.0, 0.0, 0.0, 40.0},
        {"steady hum, voice 3.5 Hz beside a harmonic: less by, dB", 0.0, 0.0, 3.5, 40.0},
        {"hum wobbling by 1 dB: less by, dB (least)", 0.0, 1.0, 0.0, 25.0},
        {"the same, wander 0.02 Hz: less by, dB", 0.02, 1.0, 0.0, 25.0},
        {"the same, voice 3.5 Hz beside a harmonic: less by, dB", 0.02, 1.0, 3.5, 25.0},
    };
    long trials = full ? 60 : 4;
    for (int i = 0; i < (int)(sizeof cases / sizeof *cases); i++)
        hum_left(&cases[i], trials, seed, 510 + i);
    tone_changed("tone 3.1 Hz off a harmonic: changed by, dB (most)", 0.25, 3.1, full ? 60 : 8, seed, 520);
    tone_changed("tone 13 Hz off a harmonic: changed by, dB (most)", 0.25, 13.0, full ? 60 : 4, seed, 521);
    tone_changed("the same 3.1 Hz off, beeps of 60 ms", 0.06, 3.1, full ? 60 : 8, seed, 522);
    tone_changed("the same, 100 ms", 0.1, 3.1, full ? 60 : 8, seed, 523);
    tone_changed("the same, 500 ms", 0.5, 3.1, full ? 60 : 8, seed, 524);
}
