#include "curves.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"
#include "touch.h"

#define P_FALSE_ALARM 1e-3

enum { STRENGTH_TRIALS = 1000, PRESENCE_TRIALS = 400, BEEP_COUNTS = 3 };
static const int beep_counts[BEEP_COUNTS] = {2, 6, 20};

/* What many touches of one case gave. */
struct found {
    long n, heard;
    double squares; /* of the errors of the heard ones, dB */
};

static struct found measure_many(const struct touch_case *c, long trials, uint64_t seed, int number)
{
    struct found found = {.n = trials};
    struct touch touch = {.x = malloc(touch_samples(c) * sizeof *touch.x)};
    struct thrum_reading reading;
    for (long t = 0; touch.x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)t);
        touch_make(&rng, c, &touch);
        if (!touch_measure(&touch, &reading) || !reading.strength[0].heard)
            continue;
        double error = reading.strength[0].dbfs - touch.truth_dbfs;
        found.heard++;
        found.squares += error * error;
    }
    free(touch.x);
    return found;
}

static double rms(const struct found *found)
{
    return found->heard > 0 ? sqrt(found->squares / (double)found->heard) : (double)NAN;
}

static struct touch_case under_hum(double snr_db, double hum_db, double off_hz)
{
    struct touch_case c = touch_case_plain();
    c.snr_db = snr_db;
    c.tone_hz = 0.0;
    c.parity = -1;
    c.mains_hz = 50.0;
    c.hum_db = hum_db;
    c.off_hz = off_hz;
    return c;
}

static void strength(uint64_t seed)
{
    printf("# level_db  noise  hum20_3.5Hz_off  hum20_on_harmonic  cramer_rao\n");
    for (int i = 0; i <= 9; i++) {
        double level = 15.0 + 5.0 * i;
        struct touch_case cases[] = {touch_case_plain(), under_hum(level, 20.0, 3.5),
                                     under_hum(level, 20.0, 0.0)};
        cases[0].snr_db = level;
        printf("%.1f", level);
        for (int k = 0; k < 3; k++) {
            struct found found =
                measure_many(&cases[k], k ? STRENGTH_TRIALS / 4 : STRENGTH_TRIALS, seed, 400 + 10 * i + k);
            printf(" %.5f", rms(&found));
        }
        /* computed: Cramer-Rao, 8.686 / sqrt(eta N_on) dB */
        printf(" %.5f\n", 8.685889638 / sqrt(thrum_power_from_db(level)));
    }
}

/* P(noncentral chi-square of 2 beeps degrees > x): a Poisson mixture of central ones (Abramowitz and Stegun 26.4.25,
 * from memory). */
static double heard_chance(int beeps, double lambda, double x)
{
    double sum = 0.0;
    for (unsigned j = 0; j < 400; j++)
        sum += gsl_ran_poisson_pdf(j, lambda / 2.0) * gsl_cdf_chisq_Q(x, 2.0 * (beeps + (double)j));
    return sum;
}

static void presence(uint64_t seed)
{
    printf("# level_db");
    for (int k = 0; k < BEEP_COUNTS; k++)
        printf("  beeps_%d bound_%d", beep_counts[k], beep_counts[k]);
    printf("\n");
    for (int i = 0; i <= 14; i++) {
        double level = 8.0 + i;
        printf("%.1f", level);
        for (int k = 0; k < BEEP_COUNTS; k++) {
            struct touch_case c = touch_case_plain();
            c.length_s = beep_counts[k] * (c.on_s + c.off_s);
            c.snr_db = level;
            struct found found = measure_many(&c, PRESENCE_TRIALS, seed, 600 + 10 * i + k);
            double bound = heard_chance(beep_counts[k], thrum_power_from_db(level),
                                        gsl_cdf_chisq_Qinv(P_FALSE_ALARM, 2.0 * beep_counts[k]));
            printf(" %.4f %.4f", (double)found.heard / (double)found.n, bound);
        }
        printf("\n");
    }
}

bool bench_curve(const char *name, uint64_t seed)
{
    if (!strcmp(name, "strength"))
        strength(seed);
    else if (!strcmp(name, "presence"))
        presence(seed);
    else
        return false;
    return true;
}
