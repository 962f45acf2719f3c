#include "presence_bound.h"

#include <math.h>
#include <stdlib.h>

#include "signal/chance.h"
#include "signals.h"
#include "thrum/units.h"

enum { BEEP = 25, CYCLE = 50, N = 300 }; /* steps of 10 ms; phases as fine */

struct sums {
    double re[N + 1], im[N + 1];
};

/* Running sums of complex noise of variance 1 and, from a random phase on, of beeps. */
static void make(struct rng *rng, double amplitude, struct sums *s)
{
    int phase = (int)(CYCLE * rng_uniform(rng));
    double turn = 0.0;
    s->re[0] = s->im[0] = 0.0;
    for (int m = 0; m < N; m++) {
        int at = (m + CYCLE - phase) % CYCLE;
        double a = at < BEEP ? amplitude : 0.0;
        if (m == 0 || at == 0)
            turn = 2.0 * THRUM_PI * rng_uniform(rng);
        s->re[m + 1] = s->re[m] + sqrt(0.5) * rng_normal(rng) + a * cos(turn);
        s->im[m + 1] = s->im[m] + sqrt(0.5) * rng_normal(rng) + a * sin(turn);
    }
}

/* ln of the likelihood ratio for one phase: I0(2 a |sum|) exp(-a^2 n) for each beep or part of one. */
static double ln_ratio_at(const struct sums *s, int phase, double amplitude)
{
    double ln = 0.0;
    for (int from = phase - CYCLE; from < N; from += CYCLE) {
        int a = from < 0 ? 0 : from, b = from + BEEP < N ? from + BEEP : N;
        if (b <= a)
            continue;
        double sum = hypot(s->re[b] - s->re[a], s->im[b] - s->im[a]);
        ln += thrum_chance_ln_i0(2.0 * amplitude * sum) - amplitude * amplitude * (b - a);
    }
    return ln;
}

static double ratio(const struct sums *s, double amplitude)
{
    double mean = 0.0;
    for (int phase = 0; phase < CYCLE; phase++)
        mean += exp(ln_ratio_at(s, phase, amplitude)) / CYCLE;
    return mean;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x < y) - (x > y);
}

double presence_bound_share(double lambda, long noises, long trials, uint64_t seed)
{
    double amplitude = sqrt(lambda / (2.0 * BEEP * (N / CYCLE))),
           *alone = malloc((size_t)noises * sizeof *alone);
    struct rng rng = rng_seeded(seed);
    struct sums s;
    long heard = 0;
    for (long i = 0; alone && i < noises; i++) {
        make(&rng, 0.0, &s);
        alone[i] = ratio(&s, amplitude);
    }
    if (!alone)
        return 0.0;
    qsort(alone, (size_t)noises, sizeof *alone, by_size);
    double threshold = alone[noises / 1000];
    for (long i = 0; i < trials; i++) {
        make(&rng, amplitude, &s);
        heard += ratio(&s, amplitude) > threshold;
    }
    free(alone);
    return (double)heard / (double)trials;
}
