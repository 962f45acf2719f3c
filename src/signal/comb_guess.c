#include <math.h>

#include "signal/comb_own.h"
#include "thrum/units.h"

#define EVIDENCE_CAP   25.0 /* no single line decides alone beyond this */
#define EVIDENCE_ALONE 20.0 /* the fundamental alone is enough */
#define EVIDENCE_COMB  26.0 /* several lines together are enough */
#define BESIDE_HZ      3.0  /* a second mains so near the first has its low lines hidden by it... */
#define BESIDE_HITS    8    /* ...and is told by so many lines at least */

enum { HARMONICS = THRUM_MAINS_HARMONICS, CANDIDATES = 64, SPARSE = 4 };

bool thrum_comb_is_avoided(const struct thrum_comb *comb, double hz)
{
    struct thrum_lines_tones tones = {comb->avoid, comb->beep_s, comb->n_avoid};
    return thrum_lines_is_avoided(&tones, hz);
}

bool thrum_comb_is_beside(const struct thrum_comb *comb, double hz)
{
    return comb->n_found > 0 && fabs(hz - comb->found[0].hz) < BESIDE_HZ;
}

/* Goes up the harmonics of a guess; every line that fits counts and narrows the guess. */
static struct thrum_comb_fit climb(const struct thrum_comb *comb, double hz, double var)
{
    struct thrum_comb_fit fit = {.hz = hz, .var = var};
    for (int h = 1; h <= HARMONICS; h++) {
        double expected = h * fit.hz;
        int k = (int)lrint(expected / comb->lines->bin_hz);
        if (k >= comb->lines->bins)
            break;
        fit.bin[h] = k;
        if (comb->masked[k] || thrum_comb_is_avoided(comb, expected))
            continue;
        double e = thrum_lines_steady(comb->lines, k);
        if (e < THRUM_COMB_LINE || !thrum_lines_prominent(comb->lines, k))
            continue;
        double noise = thrum_lines_variance(comb->lines, k);
        double off = thrum_lines_hz(comb->lines, k) - expected;
        if (square(off) > 9.0 * (square(h) * fit.var + noise) || fabs(off) > 0.8 * comb->lines->bin_hz)
            continue;
        double gain = h * fit.var / (square(h) * fit.var + noise);
        fit.hz += gain * off;
        fit.var *= 1.0 - gain * h;
        fit.hit[h] = true;
        fit.hits++;
        fit.low_hits += expected < THRUM_COMB_LOW_HZ;
        fit.evidence += fmin(e, EVIDENCE_CAP);
        if (h == 1)
            fit.first_evidence = e;
    }
    return fit;
}

/* Are nearly all its lines every so-many-th? Then the comb is another's: 180 Hz and its multiples are those of 60 Hz, not of 45. */
static bool is_sparse(const struct thrum_comb_fit *fit)
{
    for (int every = SPARSE; every < HARMONICS; every++) {
        int hits = 0;
        for (int h = every; h <= HARMONICS; h += every)
            hits += fit->hit[h];
        if (5 * hits > 4 * fit->hits)
            return true;
    }
    return false;
}

/* A string or a vowel of 164 Hz is the third harmonic of 54.7 Hz, and among its many lines some others fit by chance: with
   least_low 2 it takes two low lines, or the fundamental itself. One beside the mains found first is told by many others. */
static bool is_convincing(const struct thrum_comb *comb, const struct thrum_comb_fit *fit, int least_low)
{
    if (fit->hz < THRUM_MAINS_MIN_HZ || fit->hz > THRUM_MAINS_MAX_HZ || is_sparse(fit))
        return false;
    if (thrum_comb_is_beside(comb, fit->hz) && fit->hits >= BESIDE_HITS)
        return true;
    if (fit->hit[1] && fit->first_evidence >= EVIDENCE_ALONE)
        return true;
    return fit->hits >= 2 && fit->low_hits >= fmax(least_low, 1) && fit->evidence >= EVIDENCE_COMB;
}

/* The fundamentals that some lines suggest, and the best of them. */
struct guesses {
    int tried, least_low;
    bool found;
    struct thrum_comb_fit best;
};

static void try_fundamental(const struct thrum_comb *comb, struct guesses *guesses, int k, int h)
{
    double hz = thrum_lines_hz(comb->lines, k) / h;
    if (guesses->tried == CANDIDATES || hz < THRUM_MAINS_MIN_HZ - 0.2 || hz > THRUM_MAINS_MAX_HZ + 0.2)
        return;
    guesses->tried++;
    struct thrum_comb_fit fit = climb(comb, hz, 4.0 * thrum_lines_variance(comb->lines, k) / square(h));
    if (is_convincing(comb, &fit, guesses->least_low) &&
        (!guesses->found || fit.evidence > guesses->best.evidence)) {
        guesses->best = fit;
        guesses->found = true;
    }
}

static bool is_peak(const struct thrum_comb *comb, int k)
{
    return !comb->masked[k] && comb->lines->power[k] >= comb->lines->power[k - 1] &&
           comb->lines->power[k] > comb->lines->power[k + 1] &&
           thrum_lines_steady(comb->lines, k) >= THRUM_COMB_LINE;
}

/* Tries the fundamentals that the low lines suggest, and those beside the first mains that higher ones do. */
bool thrum_comb_guess(const struct thrum_comb *comb, int least_low, struct thrum_comb_fit *best)
{
    struct guesses low = {.least_low = least_low}, beside = low;
    int from = (int)(0.95 * THRUM_MAINS_MIN_HZ / comb->lines->bin_hz),
        to = (int)(THRUM_COMB_LOW_HZ / comb->lines->bin_hz);
    for (int k = from; k <= to; k++)
        for (int h = 1; h <= 6 && is_peak(comb, k); h++)
            try_fundamental(comb, &low, k, h);
    for (int k = to + 1; comb->n_found > 0 && k <= THRUM_COMB_BESIDE_TO_HZ / comb->lines->bin_hz; k++) {
        int below = (int)(k * comb->lines->bin_hz / comb->found[0].hz);
        for (int h = below; h <= below + 1 && is_peak(comb, k); h++)
            if (thrum_comb_is_beside(comb, thrum_lines_hz(comb->lines, k) / h))
                try_fundamental(comb, &beside, k, h);
    }
    const struct guesses *better =
        beside.found && (!low.found || beside.best.evidence > low.best.evidence) ? &beside : &low;
    *best = better->best;
    return better->found;
}
