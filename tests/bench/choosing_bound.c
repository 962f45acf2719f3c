#include "choosing_bound.h"

#include <math.h>
#include <stdlib.h>

enum { WIRES = 30, MOST_ROUNDS = 20000 };
static const double MOST_PICKED = 0.01;

/* Sums over the readings of a round, in placements; exponentials about the strongest. */
struct sums {
    double all, squares, most;
};

static struct sums sum_up(const double *y)
{
    struct sums s = {0.0, 0.0, -(double)INFINITY};
    for (int i = 0; i < WIRES; i++) {
        s.all += y[i];
        s.squares += y[i] * y[i];
        s.most = fmax(s.most, y[i]);
    }
    return s;
}

/* ln likelihood of one wire `lead` above all others, any of them; flat in their level. */
static double ln_one(const double *y, double lead)
{
    struct sums s = sum_up(y);
    double rest = s.all - lead, sum = 0.0;
    for (int i = 0; i < WIRES; i++)
        sum += exp(lead * (y[i] - s.most));
    return -0.5 * (s.squares + lead * lead - rest * rest / WIRES) + lead * s.most + log(sum / WIRES);
}

/* ... of two wires `above` the others, any two. */
static double ln_two(const double *y, double above)
{
    struct sums s = sum_up(y);
    double rest = s.all - 2.0 * above, before = 0.0, pairs = 0.0;
    for (int i = 0; i < WIRES; i++) {
        double one = exp(above * (y[i] - s.most));
        pairs += before * one;
        before += one;
    }
    return -0.5 * (s.squares + 2.0 * above * above - rest * rest / WIRES) + 2.0 * above * s.most +
           log(pairs / (0.5 * WIRES * (WIRES - 1)));
}

static double ratio(struct rng *rng, double first, double second, double lead, double above)
{
    double y[WIRES];
    for (int i = 0; i < WIRES; i++)
        y[i] = rng_normal(rng);
    y[0] += first;
    y[1] += second;
    return ln_one(y, lead) - ln_two(y, above);
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double bench_most_at_once(struct rng *rng, int rounds, double lead_placements)
{
    static double alike[MOST_ROUNDS];
    double least = 1.0;
    int n = rounds < MOST_ROUNDS ? rounds : MOST_ROUNDS;
    for (double above = 2.0; above <= 6.0; above += 0.5) {
        int picked = 0;
        for (int r = 0; r < n; r++)
            alike[r] = ratio(rng, above, above - rng_between(rng, 0.0, 0.2), lead_placements, above);
        qsort(alike, (size_t)n, sizeof *alike, ascending);
        double from = alike[(int)((1.0 - MOST_PICKED) * n)];
        for (int r = 0; r < n; r++)
            picked += ratio(rng, lead_placements, 0.0, lead_placements, above) > from;
        least = fmin(least, (double)picked / n);
    }
    return least;
}
