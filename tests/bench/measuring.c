#include "measuring.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "rows.h"
#include "thrum/units.h"
#include "touch.h"

/* What many touches of one kind gave. */
struct tally {
    long n, heard, covered;
    double sum, squares, fourths; /* of the errors, dB */
    double worst_db;              /* the largest error, and where it was */
    long worst_trial;
    double worst_tone_hz, worst_mains_hz, worst_found_hz, worst_sd_db;
};

static void count(struct tally *tally, long trial, const struct touch *touch,
                  const struct thrum_reading *reading)
{
    const struct thrum_strength *s = &reading->strength[0];
    double error = s->dbfs - touch->truth_dbfs;
    tally->n++;
    if (!s->heard)
        return;
    tally->heard++;
    tally->covered += touch->truth_dbfs >= s->low_db && touch->truth_dbfs <= s->high_db;
    tally->sum += error;
    tally->squares += error * error;
    tally->fourths += error * error * error * error;
    if (fabs(error) > fabs(tally->worst_db)) {
        tally->worst_db = error;
        tally->worst_trial = trial;
        tally->worst_tone_hz = touch->voice.tones_hz[0];
        tally->worst_mains_hz = touch->mains_hz;
        tally->worst_found_hz = reading->mains_hz;
        tally->worst_sd_db = s->sd_db;
    }
}

/* Every case has its own seeds: number tells cases apart. */
static struct tally run(const struct touch_case *c, long trials, uint64_t seed, int number)
{
    struct tally tally = {0};
    struct touch touch = {.x = malloc(touch_samples(c) * sizeof *touch.x)};
    struct thrum_reading reading;
    for (long t = 0; touch.x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        touch_make(&rng, c, &touch);
        if (touch_measure(&touch, &reading))
            count(&tally, t, &touch, &reading);
    }
    free(touch.x);
    return tally;
}

static void coverage(const char *name, const struct tally *tally)
{
    char what[96];
    double share = (double)tally->covered / (double)tally->heard;
    snprintf(what, sizeof what, "%s: 95 %% interval holds the truth", name);
    bench_between("M5", what, 100.0 * share, 93.0, 97.0,
                  (struct bench_sample){tally->heard, 100.0 * bench_share_error(share, tally->heard)});
}

static void all_heard(const char *figure, const char *name, const struct tally *tally)
{
    if (tally->heard < tally->n)
        bench_remark("%s, %s: only %ld of %ld touches were heard", figure, name, tally->heard, tally->n);
}

static void one_noise(const struct touch_case *c, long trials, uint64_t seed, int number)
{
    char name[40], what[96];
    struct tally tally = run(c, trials, seed, number);
    double n = (double)tally.heard, bias = tally.sum / n, spread = sqrt(tally.squares / n - bias * bias);
    /* computed: Cramer-Rao, 8.686 / sqrt(eta N_on) dB */
    double bound = 8.685889638 / sqrt(thrum_power_from_db(c->snr_db));
    snprintf(name, sizeof name, "noise, %.0f dB%s", c->snr_db, c->rate_hz > 16000.0 ? ", 48 kHz" : "");
    snprintf(what, sizeof what, "%s: spread over Cramer-Rao", name);
    bench_at_most("M1", what, spread / bound, fmax(1.10, 0.01 / bound),
                  (struct bench_sample){tally.heard, spread / bound / sqrt(2.0 * n)});
    snprintf(what, sizeof what, "%s: bias, dB", name);
    bench_at_most("M1", what, fabs(bias), fmax(0.1 * spread, 0.02),
                  (struct bench_sample){tally.heard, spread / sqrt(n)});
    coverage(name, &tally);
    all_heard("M1", name, &tally);
}

void bench_strength_noise(bool full, uint64_t seed)
{
    int number = 0;
    for (double db = 20.0; db <= 50.0; db += 10.0) {
        struct touch_case c = touch_case_plain();
        c.snr_db = db;
        one_noise(&c, full ? 4000 : 500, seed, ++number);
    }
    struct touch_case fast = touch_case_plain();
    fast.rate_hz = 48000.0;
    fast.snr_db = 40.0;
    one_noise(&fast, full ? 1000 : 80, seed, ++number);
}

struct hum_case {
    const char *figure, *name;
    double mains_hz, hum_db;
    int parity;
    double off_hz, rate_hz, limit_db;
};

static void one_hum(const struct hum_case *h, long trials, uint64_t seed, int number)
{
    struct touch_case c = touch_case_plain();
    char what[96];
    c.tone_hz = 0.0;
    c.mains_hz = h->mains_hz;
    c.hum_db = h->hum_db;
    c.parity = h->parity;
    c.off_hz = h->off_hz;
    c.rate_hz = h->rate_hz;
    struct tally tally = run(&c, trials, seed, number);
    double n = (double)tally.heard, mean = tally.squares / n, rms = sqrt(mean);
    snprintf(what, sizeof what, "%s: RMS error, dB", h->name);
    bench_at_most(
        h->figure, what, rms, h->limit_db,
        (struct bench_sample){tally.heard, sqrt((tally.fourths / n - mean * mean) / n) / (2.0 * rms)});
    coverage(h->name, &tally);
    all_heard(h->figure, h->name, &tally);
    bench_remark("largest error %+.3f dB (own standard error %.3f): trial %ld, tone %.2f Hz, mains %.3f Hz, "
                 "found %.3f",
                 tally.worst_db, tally.worst_sd_db, tally.worst_trial, tally.worst_tone_hz,
                 tally.worst_mains_hz, tally.worst_found_hz);
}

void bench_strength_hum(bool full, uint64_t seed)
{
    const struct hum_case cases[] = {
        {"M2", "hum +20, 50 Hz, tone 3.5 Hz off", 50, 20, -1, 3.5, 8000, 0.10},
        {"M2", "hum +20, 60 Hz, tone 3.5 Hz off", 60, 20, -1, 3.5, 8000, 0.10},
        {"M2", "hum +20, 50 Hz, tone 13 Hz off", 50, 20, -1, 13, 8000, 0.10},
        {"M2", "hum +20, 60 Hz, tone 13 Hz off", 60, 20, -1, 13, 8000, 0.10},
        {"M2", "hum +20, 50 Hz, 3.5 Hz off, 48 kHz", 50, 20, -1, 3.5, 48000, 0.10},
        {"M3", "hum +35, 50 Hz, tone 3.5 Hz off", 50, 35, -1, 3.5, 8000, 0.20},
        {"M3", "hum +35, 60 Hz, tone 3.5 Hz off", 60, 35, -1, 3.5, 8000, 0.20},
        {"M3", "hum +35, 50 Hz, tone 13 Hz off", 50, 35, -1, 13, 8000, 0.20},
        {"M3", "hum +35, 60 Hz, tone 13 Hz off", 60, 35, -1, 13, 8000, 0.20},
    };
    for (int i = 0; i < (int)(sizeof cases / sizeof *cases); i++) {
        long trials = cases[i].rate_hz > 16000.0 ? (full ? 300 : 30) : (full ? 1500 : 120);
        one_hum(&cases[i], trials, seed, 100 + i);
    }
}

void bench_strength_on_hum(bool full, uint64_t seed)
{
    const struct hum_case cases[] = {
        {"M4", "hum +20, 50 Hz, on an even harmonic", 50, 20, 0, 0.0, 8000, 0.30},
        {"M4", "hum +20, 50 Hz, on an odd harmonic", 50, 20, 1, 0.0, 8000, 0.30},
        {"M4", "hum +20, 60 Hz, on an even harmonic", 60, 20, 0, 0.0, 8000, 0.30},
        {"M4", "hum +20, 60 Hz, on an odd harmonic", 60, 20, 1, 0.0, 8000, 0.30},
        {"M4", "hum +20, 50 Hz, odd, 48 kHz", 50, 20, 1, 0.0, 48000, 0.30},
    };
    for (int i = 0; i < (int)(sizeof cases / sizeof *cases); i++) {
        long trials = cases[i].rate_hz > 16000.0 ? (full ? 300 : 30) : (full ? 1500 : 120);
        one_hum(&cases[i], trials, seed, 200 + i);
    }
}
