/** @file tonefit.h
 *  Least squares in the neighbourhood of one tone: the complex amplitude of every beep and the slowly changing
 *  amplitude of every hum line near it, estimated together.
 *
 *  Model of the baseband: z[m] = sum_b A_b s_b[m] + sum_l sum_k c_lk exp(j 2 pi (f_l + k / W) t) + noise, with
 *  s_b the beep's gate seen through the baseband filter. The hum's c are given a normal prior whose variance
 *  falls with |k| / W, so a line may change slowly but not key like a sender. Solved by the normal equations
 *  (Gauss-Markov with prior; Kay, Estimation Theory, 1993, linear Bayesian model, from memory).
 */
#ifndef THRUM_TONEFIT_H
#define THRUM_TONEFIT_H

#include <stddef.h>

#include "signal/baseband.h"
#include "signal/beeps.h"
#include "thrum/status.h"

/** Most beeps, unknowns and timing numbers in one fit. */
#define THRUM_TONEFIT_BEEPS   64
#define THRUM_TONEFIT_TIMINGS 26
/** The curved numbers of one fit: the tone's offset, its slope, then the timings. */
#define THRUM_TONEFIT_CURVED   (2 + THRUM_TONEFIT_TIMINGS)
#define THRUM_TONEFIT_LINES    4
#define THRUM_TONEFIT_UNKNOWNS (THRUM_TONEFIT_BEEPS + THRUM_TONEFIT_LINES * 25)

/** A hum line near the tone. */
struct thrum_hum_line {
    double offset_hz; /**< From the baseband's centre, at t = 0. */
    double slope_hz_per_s;
    double power;     /**< Of the line, in units of |z|^2; sets the prior. */
    double width_hz;  /**< Its slow change, half width; about 0.5. */
    double wander_hz; /**< How far it moves beside its slope; not used here. */
};

/** One beep in this fit; times in analysis samples from the stretch's beginning. */
struct thrum_fit_beep {
    double from, to;
    double weight;                            /**< In the mean power: its length in any unit. */
    double from_moves[THRUM_TONEFIT_TIMINGS]; /**< d from / d timing number. [n_timings] */
    double to_moves[THRUM_TONEFIT_TIMINGS];   /**< d to / d timing number. [n_timings] */
};

struct thrum_tonefit;

/** Room for count_max baseband samples. @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_tonefit_create(const struct thrum_baseband *baseband, size_t count_max,
                                       struct thrum_tonefit **fit);
void thrum_tonefit_destroy(struct thrum_tonefit *fit);

/** What goes in. */
struct thrum_fit_input {
    const struct cplx *z; /**< Shape [count]. */
    size_t first, count;  /**< z[0] is baseband sample `first` of the stretch. */
    const struct thrum_fit_beep *beeps;
    int n_beeps;           /**< At most THRUM_TONEFIT_BEEPS. */
    int n_timings;         /**< At most THRUM_TONEFIT_TIMINGS. */
    double offset_hz;      /**< Of the tone from the centre, at the time `about_s`. */
    double slope_hz_per_s; /**< The tone's drift. */
    double about_s;
    const struct thrum_hum_line *lines;
    int n_lines;  /**< At most THRUM_TONEFIT_LINES. */
    double noise; /**< Variance of z by white noise, > 0. */
};

/** What comes out; the arrays belong to the fit and hold until its next run. */
struct thrum_fit_output {
    const struct cplx *amplitude; /**< [n_beeps] */
    const struct cplx
        *covariance; /**< For noise 1: multiply by the noise variance. Row-major [n_beeps][stride]. */
    int stride;
    const struct cplx *residual; /**< z less everything, [count]. */
    const struct cplx *no_hum;   /**< z less the hum, [count]. */
};

/**
 * How the fit would change with its curved numbers (offset, slope, timings in this order), about the last run; one
 * Gauss-Newton step is the solution of curvature x = uphill. Everything is added to what is there already, so that
 * fits which share their numbers can be summed.
 */
struct thrum_fit_slope {
    int n;                                                        /**< 2 + n_timings. */
    double curvature[THRUM_TONEFIT_CURVED][THRUM_TONEFIT_CURVED]; /**< Re D^H P D. */
    double uphill[THRUM_TONEFIT_CURVED];                          /**< Re D^H residual. */
    double power_moves[THRUM_TONEFIT_CURVED];                     /**< d (sum weight |A|^2) / d number. */
};

/** @retval THRUM_OK, THRUM_ERR_ARG (too many unknowns), THRUM_ERR_NOT_FOUND (the equations are singular). */
enum thrum_status thrum_tonefit_run(struct thrum_tonefit *fit, const struct thrum_fit_input *in,
                                    struct thrum_fit_output *out);

/** Unknowns of one hum line in a fit of so many samples. */
int thrum_tonefit_line_unknowns(const struct thrum_baseband *baseband, size_t count);

/**
 * After a run with the same input: how many independent values of z the hum took up, noise with them. Between 0 and the
 * unknowns of all lines: what the prior holds down takes less.
 */
double thrum_tonefit_taken(const struct thrum_tonefit *fit, const struct thrum_fit_input *in);

/** After a run with the same input. */
void thrum_tonefit_slope(struct thrum_tonefit *fit, const struct thrum_fit_input *in,
                         struct thrum_fit_slope *slope);

#endif
