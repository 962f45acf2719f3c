/** @file humlines.h
 *  The hum lines that lie in one tone's neighbourhood: which they are, and taking the far ones out.
 */
#ifndef THRUM_HUMLINES_H
#define THRUM_HUMLINES_H

#include <stdbool.h>
#include <stddef.h>

#include "signal/mains.h"
#include "signal/tonefit.h"

/** One mains in the stretch, or one steady line by itself. */
struct thrum_hum_source {
    double hz; /**< Fundamental at the stretch's middle. */
    double slope_hz_per_s;
    double wander_hz; /**< Beside that, of the fundamental. */
    bool alone;       /**< It has no harmonics. */
};

/** Most sources of one stretch: mains first, then lines by themselves. */
#define THRUM_HUM_SOURCES (THRUM_MAINS_MAX + THRUM_MAINS_OTHERS)

#define THRUM_HUMLINES_MAX 16
#define THRUM_NEAR_HZ      15.0 /**< Lines nearer to the tone than this are estimated together with it. */

/** Harmonics, and lines by themselves that are not near the tone, within the baseband's reach; their power is 1 for now. @return how many, at most THRUM_HUMLINES_MAX. */
int thrum_humlines_list(const struct thrum_baseband *baseband, const struct thrum_hum_source *hum, int n_hum,
                        double middle_s, struct thrum_hum_line *lines);

/** Parts of about part_s, at most THRUM_FIT_PART_MOST times that, that a stretch is fitted in; part i of n is [i count / n, (i + 1) count / n). */
#define THRUM_FIT_PART_MOST 1.4
size_t thrum_fit_parts(const struct thrum_baseband *baseband, size_t count);

/** Most baseband samples of one part. */
size_t thrum_fit_part_max(const struct thrum_baseband *baseband);

/** Part i of z as an input without beeps and lines, noise next to nothing. */
struct thrum_fit_input thrum_fit_part(const struct thrum_baseband *baseband, const struct cplx *z,
                                      size_t first, size_t count, size_t i);

/** Fit one line alone, part by part, and take it out of `from` into `to` (may be the same). @return its mean power. */
double thrum_humlines_take_out(struct thrum_tonefit *fit, const struct thrum_baseband *baseband,
                               const struct thrum_hum_line *line, const struct cplx *from, size_t first,
                               size_t count, struct cplx *to);

/**
 * How many independent values of z it took along to take these lines out, each alone and as freely as may be. Noise that the
 * filter lets through less counts less, and what two lines share counts once.
 */
double thrum_humlines_taken(const struct thrum_baseband *baseband, const struct thrum_hum_line *lines, int n,
                            size_t count);

#endif
