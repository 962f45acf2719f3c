/** @file comb_own.h
 *  What the comb and its guesses share.
 */
#ifndef THRUM_COMB_OWN_H
#define THRUM_COMB_OWN_H

#include <stdbool.h>

#include "signal/comb.h"
#include "signal/lines.h"

/** Evidence that a bin holds a line: about the natural logarithm of how unlikely its steadiness is in noise. */
#define THRUM_COMB_LINE         6.0
#define THRUM_COMB_LOW_HZ       290.0  /**< Lines below it suggest a fundamental. */
#define THRUM_COMB_BESIDE_TO_HZ 1500.0 /**< A second mains beside the first is looked for up to here. */

struct thrum_comb {
    struct thrum_lines *lines;
    bool *masked; /* [bins]: a line of the first mains, or avoided */
    double avoid[THRUM_MAINS_AVOID], beep_s[THRUM_MAINS_AVOID];
    int n_avoid;
    /* [THRUM_MAINS_HARMONICS][max_frames]: the harmonics turned back by the fundamental */
    float *r_re, *r_im;
    double line[THRUM_MAINS_HARMONICS + 1]; /* power of each harmonic of the last fit; full-scale sine = 1 */
    double unsteady[THRUM_MAINS_HARMONICS + 1]; /* 0 for a pure line, 1 for noise */
    struct thrum_mains_value found[THRUM_MAINS_MAX];
    int n_found;
};

/* A fundamental while its harmonics are gathered. */
struct thrum_comb_fit {
    double hz, var; /* and its variance */
    double evidence, first_evidence;
    double slope, se_hz;
    int hits, low_hits;
    bool hit[THRUM_MAINS_HARMONICS + 1];
    int bin[THRUM_MAINS_HARMONICS + 1];
};

static inline double square(double x)
{
    return x * x;
}

/** Is a line at hz likely the sender's? */
bool thrum_comb_is_avoided(const struct thrum_comb *comb, double hz);

/** So near the mains found first that its low lines are hidden by those? */
bool thrum_comb_is_beside(const struct thrum_comb *comb, double hz);

/** The fundamental that the lines suggest most; false when none is convincing. */
bool thrum_comb_guess(const struct thrum_comb *comb, int least_low, struct thrum_comb_fit *best);

#endif
