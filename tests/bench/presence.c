#include "presence.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "presence_bound.h"
#include "rows.h"
#include "thrum/units.h"
#include "touch.h"

/* Six beeps, P_d 0.9, P_fa 1e-3, the bursts' phases independent: the sum of T is chi-square of 12 degrees, and this is
 * the noncentrality it needs (computed: threshold 32.909; six times the N A^2 / (2 s^2) of one beep). */
#define BOUND_LAMBDA 37.01
#define WANTED_PD    0.9

enum { LEVELS = 6 };
static const double extra_db[LEVELS] = {-0.5, 0.0, 0.5, 1.0, 1.5, 2.5};

static long count_heard(const struct touch_case *c, long trials, uint64_t seed, int number)
{
    struct touch touch = {.x = malloc(touch_samples(c) * sizeof *touch.x)};
    struct thrum_reading reading;
    long heard = 0;
    for (long t = 0; touch.x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        touch_make(&rng, c, &touch);
        heard += touch_measure(&touch, &reading) && reading.strength[0].heard;
    }
    free(touch.x);
    return heard;
}

/* A straight line through the probits of P_d against decibels, each weighted by what its touches say. */
struct line {
    double w, wx, wy, wxx, wxy;
};

static void add_point(struct line *line, double db, double share, long n)
{
    double p = fmin(fmax(share, 0.5 / (double)n), 1.0 - 0.5 / (double)n), probit = gsl_cdf_ugaussian_Pinv(p);
    double slope = gsl_ran_ugaussian_pdf(probit), w = (double)n * slope * slope / (p * (1.0 - p));
    line->w += w;
    line->wx += w * db;
    line->wy += w * probit;
    line->wxx += w * db * db;
    line->wxy += w * db * probit;
}

/* Where the line reaches WANTED_PD; *error its standard error. */
static double crossing(const struct line *l, double *error)
{
    double d = l->w * l->wxx - l->wx * l->wx, slope = (l->w * l->wxy - l->wx * l->wy) / d;
    double mean_x = l->wx / l->w, x = mean_x + (gsl_cdf_ugaussian_Pinv(WANTED_PD) - l->wy / l->w) / slope;
    double about_mean = d / l->w;
    *error = sqrt(1.0 / l->w + (x - mean_x) * (x - mean_x) / about_mean) / fabs(slope);
    return x;
}

static void one(struct touch_case c, const char *name, double limit_db, long trials, uint64_t seed,
                int number)
{
    struct line line = {0};
    char what[96], shares[160] = "";
    int at = 0;
    for (int i = 0; i < LEVELS; i++) {
        c.snr_db = thrum_db_from_power(BOUND_LAMBDA) + extra_db[i];
        double share = (double)count_heard(&c, trials, seed, number + i) / (double)trials;
        add_point(&line, extra_db[i], share, trials);
        at += snprintf(shares + at, sizeof shares - (size_t)at, "  %+.1f dB %.3f", extra_db[i], share);
    }
    double error, extra = crossing(&line, &error);
    snprintf(what, sizeof what, "%s: tone over the bound at Pd 0.9, dB", name);
    bench_at_most("M6", what, extra, limit_db, (struct bench_sample){LEVELS * trials, error});
    bench_remark("Pd at%s", shares);
}

/* What looking for the phase alone costs at the least. Levels as in one(), as far as they tell. */
static void best_there_can_be(long noises, long trials, uint64_t seed)
{
    struct line line = {0};
    int levels = LEVELS - 1;
    for (int i = 0; i < levels; i++) {
        double lambda = BOUND_LAMBDA * thrum_power_from_db(extra_db[i]);
        uint64_t own = seed * 1000000007u + 360000000u + (uint64_t)i;
        add_point(&line, extra_db[i], presence_bound_share(lambda, noises, trials, own), trials);
    }
    double error, extra = crossing(&line, &error),
                  by_threshold = 0.15 / sqrt((double)levels * (double)noises / 1e4);
    bench_note("M6", "... the least there can be, frequency and strength known", extra,
               (struct bench_sample){levels * trials, hypot(error, by_threshold)});
}

static void alarms(struct touch_case c, const char *name, long trials, uint64_t seed, int number)
{
    char what[96];
    c.no_tone = true;
    c.snr_db =
        thrum_db_from_power(BOUND_LAMBDA); /* the hum stands over the noise as it did beside the tone */
    double share = (double)count_heard(&c, trials, seed, number) / (double)trials;
    snprintf(what, sizeof what, "%s: false alarms in 1000", name);
    bench_at_most("M6", what, 1000.0 * share, 1.0,
                  (struct bench_sample){trials, 1000.0 * bench_share_error(share, trials)});
}

void bench_presence(bool full, uint64_t seed)
{
    struct touch_case c = touch_case_plain();
    one(c, "noise, 6 beeps", 1.0, full ? 4000 : 250, seed, 300);
    best_there_can_be(full ? 60000 : 10000, full ? 20000 : 3000, seed);
    alarms(c, "noise", full ? 50000 : 1500, seed, 310);
}

void bench_presence_under_hum(bool full, uint64_t seed)
{
    static const struct {
        const char *name;
        double mains_hz, off_hz;
    } cases[] = {{"hum +30, 50 Hz, 13 Hz off", 50.0, 13.0}, {"hum +30, 60 Hz, 3.5 Hz off", 60.0, 3.5}};
    for (int i = 0; i < 2; i++) {
        struct touch_case c = touch_case_plain();
        c.tone_hz = 0.0;
        c.parity = -1;
        c.mains_hz = cases[i].mains_hz;
        c.off_hz = cases[i].off_hz;
        c.hum_db = 30.0;
        one(c, cases[i].name, 2.0, full ? 1500 : 60, seed, 320 + 20 * i);
        alarms(c, cases[i].name, full ? 5000 : 300, seed, 330 + 20 * i);
    }
}
