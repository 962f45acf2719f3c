#include "signal/comb.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "signal/comb_own.h"
#include "signal/lines.h"
#include "signal/otherlines.h"
#include "thrum/units.h"

#define STEADY_OFF_HZ 0.35 /* a harmonic may seem off by this once drift is taken out */

#define STILL           0.6  /* of the length of the steps, while mains is there */
#define STILL_SHARE     0.6  /* of the time */
#define STILL_SHARE_ONE 0.75 /* for one line alone */
#define SECOND_RATIO    1e-4 /* of two mains, the weaker may be this much below */
#define SLOPE_SD        0.02 /* Hz per s, what mains does */
#define QUIETEST_RATIO  1e-6 /* hum power to all power */
#define QUIETEST_POWER  1e-12

enum { HARMONICS = THRUM_MAINS_HARMONICS, GUESSES = 4, WITNESSES = 64, WANDER_HARMONICS = 20 };

enum thrum_status thrum_comb_create(double rate_hz, double frame_s, int max_frames, struct thrum_comb **comb)
{
    *comb = NULL;
    struct thrum_comb *c = calloc(1, sizeof *c);
    if (!c)
        return THRUM_ERR_MEM;
    enum thrum_status status =
        thrum_lines_create(rate_hz, frame_s, HARMONICS * THRUM_MAINS_MAX_HZ, max_frames, &c->lines);
    if (status)
        goto fail;
    status = THRUM_ERR_MEM;
    size_t frames = (size_t)max_frames;
    c->masked = calloc((size_t)c->lines->bins, sizeof *c->masked);
    c->r_re = calloc(HARMONICS * frames, sizeof *c->r_re);
    c->r_im = calloc(HARMONICS * frames, sizeof *c->r_im);
    if (!c->masked || !c->r_re || !c->r_im)
        goto fail;
    *comb = c;
    return THRUM_OK;
fail:
    thrum_comb_destroy(c);
    return status;
}

void thrum_comb_destroy(struct thrum_comb *comb)
{
    if (!comb)
        return;
    thrum_lines_destroy(comb->lines);
    free(comb->masked);
    free(comb->r_re);
    free(comb->r_im);
    free(comb);
}

void thrum_comb_avoid(struct thrum_comb *comb, const double *tones_hz, const double *beep_s, int n)
{
    comb->n_avoid = n < 0 ? 0 : n > THRUM_MAINS_AVOID ? THRUM_MAINS_AVOID : n;
    for (int i = 0; i < comb->n_avoid; i++) {
        comb->avoid[i] = tones_hz[i];
        comb->beep_s[i] = beep_s ? beep_s[i] : (double)INFINITY;
    }
}

int thrum_comb_frame(const struct thrum_comb *comb)
{
    return comb->lines->frame;
}

int thrum_comb_max_frames(const struct thrum_comb *comb)
{
    return comb->lines->max_frames;
}

int thrum_comb_count(const struct thrum_comb *comb)
{
    return comb->lines->count;
}

void thrum_comb_clear(struct thrum_comb *comb)
{
    thrum_lines_clear(comb->lines);
}

void thrum_comb_push(struct thrum_comb *comb, const float *x)
{
    thrum_lines_push(comb->lines, x);
}

/* Takes the harmonics out of the frames and turns them back by the fundamental: what is left stands nearly still.
   Phases are those in the middle of a frame, where they do not depend on the bin a line is read in; so a drifting
   line may be followed from bin to bin. */
static void turn_back(struct thrum_comb *comb, const struct thrum_comb_fit *fit)
{
    int n = comb->lines->count;
    for (int t = 0; t < n; t++) {
        double tau = (t - 0.5 * (n - 1)) * comb->lines->hop_s, hz = fit->hz + fit->slope * tau;
        double cycles = fit->hz * tau + 0.5 * fit->slope * tau * tau;
        double phase = -2.0 * THRUM_PI * (cycles - floor(cycles));
        double one_re = cos(phase), one_im = sin(phase), re = 1.0, im = 0.0;
        size_t from = thrum_lines_at(comb->lines, t);
        for (int h = 1; h <= HARMONICS; h++) {
            double next = re * one_re - im * one_im;
            im = re * one_im + im * one_re;
            re = next;
            double place = h * hz / comb->lines->bin_hz;
            int k = (int)(place + 0.5);
            if (k >= comb->lines->bins)
                break;
            double loss = comb->lines->response[(int)(fabs(place - k) * 63.0 + 0.5)] * (k % 2 ? -1.0 : 1.0);
            double x = (double)comb->lines->re[from + (size_t)k] / loss,
                   y = (double)comb->lines->im[from + (size_t)k] / loss;
            size_t at = (size_t)(h - 1) * (size_t)comb->lines->max_frames + (size_t)t;
            comb->r_re[at] = (float)(x * re - y * im);
            comb->r_im[at] = (float)(x * im + y * re);
        }
    }
}

/* With the drift taken out, asks every harmonic again whether it is a steady line, and how strong. */
static void gather(struct thrum_comb *comb, struct thrum_comb_fit *fit)
{
    int n = comb->lines->count, top = (int)((comb->lines->bins - 2) * comb->lines->bin_hz / (fit->hz + 0.5));
    fit->hits = 0;
    for (int h = 1; h <= HARMONICS; h++) {
        fit->hit[h] = false;
        fit->bin[h] = (int)(h * fit->hz / comb->lines->bin_hz + 0.5);
        if (h > top || comb->masked[fit->bin[h]] || thrum_comb_is_avoided(comb, h * fit->hz))
            continue;
        const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->lines->max_frames;
        const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->lines->max_frames;
        double step_re = 0.0, step_im = 0.0, pair = 1e-30, was = 0.0;
        for (int t = 0; t < n; t++) {
            double x = (double)re[t], y = (double)im[t], power = x * x + y * y;
            if (t > 0) {
                step_re += x * (double)re[t - 1] + y * (double)im[t - 1];
                step_im += y * (double)re[t - 1] - x * (double)im[t - 1];
                pair += 0.5 * (power + was);
            }
            was = power;
        }
        double g2 = (square(step_re) + square(step_im)) / square(pair);
        double e = thrum_lines_evidence(comb->lines, g2);
        double off = atan2(step_im, step_re) / (2.0 * THRUM_PI * comb->lines->hop_s);
        double noise = sqrt((1.0 - fmin(g2, 1.0)) / (2.0 * fmax(g2, 1e-3) * (n - 1))) /
                       (2.0 * THRUM_PI * comb->lines->hop_s);
        if (e < THRUM_COMB_LINE || !thrum_lines_prominent(comb->lines, fit->bin[h]) ||
            fabs(off) > STEADY_OFF_HZ + 3.0 * noise)
            continue;
        fit->hit[h] = true;
        fit->hits++;
        comb->unsteady[h] = 1.0 - fmin(g2, 1.0);
        comb->line[h] = sqrt(square(step_re) + square(step_im)) / (n - 1) / square(comb->lines->frame / 4.0);
    }
}

/* Turns harmonic h of frame t by a further h * (tau d + (tau^2 - q) s / 2) cycles back. */
static void turn_further(struct thrum_comb *comb, const struct thrum_comb_fit *fit, double d, double s)
{
    int top = HARMONICS;
    while (top > 0 && !fit->hit[top])
        top--;
    for (int t = 0; t < comb->lines->count; t++) {
        double tau = (t - 0.5 * (comb->lines->count - 1)) * comb->lines->hop_s;
        double phase = -2.0 * THRUM_PI * (tau * d + 0.5 * tau * tau * s);
        double one_re = cos(phase), one_im = sin(phase), re = 1.0, im = 0.0;
        for (int h = 1; h <= top; h++) {
            double next = re * one_re - im * one_im;
            im = re * one_im + im * one_re;
            re = next;
            if (!fit->hit[h])
                continue;
            size_t at = (size_t)(h - 1) * (size_t)comb->lines->max_frames + (size_t)t;
            double x = (double)comb->r_re[at], y = (double)comb->r_im[at];
            comb->r_re[at] = (float)(x * re - y * im);
            comb->r_im[at] = (float)(x * im + y * re);
        }
    }
}

/* How much of the step from frame t - 1 to t is a standing still of harmonic h, weighed so that all steps are about 1. */
static void add_stillness(const struct thrum_comb *comb, int h, int t, double *along, double *all)
{
    const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->lines->max_frames + t;
    const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->lines->max_frames + t;
    double power = 0.5 * (square((double)re[0]) + square((double)im[0]) + square((double)re[-1]) +
                          square((double)im[-1]));
    double mean = comb->line[h] * square(comb->lines->frame / 4.0);
    double weight = 1.0 / ((power + mean + 1e-30) * (comb->unsteady[h] + 0.02));
    *along += weight * ((double)re[0] * (double)re[-1] + (double)im[0] * (double)im[-1]);
    *all += weight * power;
}

/* Share of the time in which the harmonics `from` to `to` that were found stand still together. */
static double share_still(const struct thrum_comb *comb, const struct thrum_comb_fit *fit, int from, int to)
{
    int n = comb->lines->count, still = 0;
    for (int t = 1; t < n; t++) {
        double along = 0.0, all = 0.0;
        for (int h = from; h <= to; h++)
            if (fit->hit[h])
                add_stillness(comb, h, t, &along, &all);
        still += along > STILL * all;
    }
    return (double)still / (n - 1);
}

/* A vowel or a musical note may be as steady as mains, but not for long; mains hums on. All harmonics together must
   stand still for most of the time, or one of the low ones. */
static bool hums_on(const struct thrum_comb *comb, const struct thrum_comb_fit *fit)
{
    if (share_still(comb, fit, 1, HARMONICS) >= STILL_SHARE)
        return true;
    for (int h = 1; h * fit->hz < THRUM_COMB_LOW_HZ; h++)
        if (fit->hit[h] && share_still(comb, fit, h, h) >= STILL_SHARE_ONE)
            return true;
    return false;
}

/* One step of the joint fit of frequency and drift over the harmonics up to `top`. */
static void fit_step(struct thrum_comb *comb, struct thrum_comb_fit *fit, int top)
{
    int n = comb->lines->count;
    double tau2 = 0.0, tau4 = 0.0;
    for (int t = 0; t < n; t++) {
        double tau = (t - 0.5 * (n - 1)) * comb->lines->hop_s;
        tau2 += tau * tau;
        tau4 += square(tau * tau);
    }
    double mean2 = tau2 / n, spread = tau4 - n * square(mean2);
    double information = 0.0, hz_sum = 0.0, slope_sum = 0.0, scatter[WITNESSES] = {0};
    for (int h = 1; h <= top; h++) {
        if (!fit->hit[h])
            continue;
        const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->lines->max_frames;
        const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->lines->max_frames;
        double c_re = 0.0, c_im = 0.0, power = 0.0;
        for (int t = 0; t < n; t++) {
            c_re += (double)re[t] / n;
            c_im += (double)im[t] / n;
            power += square((double)re[t]) + square((double)im[t]);
        }
        double line = square(c_re) + square(c_im);
        double rest = fmax(power - n * line, 0.0) / (2.0 * (n - 1)) + 1e-4 * line;
        if (!(rest > 0.0))
            continue;
        double weight = h / rest; /* line * h / rest, the line's power cancels against the phase's divisor */
        information += square(h) * line / rest;
        for (int t = 0; t < n; t++) {
            double tau = (t - 0.5 * (n - 1)) * comb->lines->hop_s;
            double across = (double)im[t] * c_re - (double)re[t] * c_im;
            hz_sum += weight * across * tau;
            slope_sum += weight * across * 0.5 * (tau * tau - mean2);
            scatter[t % WITNESSES] += weight * across * tau;
        }
    }
    if (!(information > 0.0))
        return;
    double turn = 2.0 * THRUM_PI, d = hz_sum / (turn * information * tau2);
    /* the drift is held near what mains does: noise alone must not bend the answer */
    double prior = 1.0 / square(SLOPE_SD), data = square(turn) * information * 0.25 * spread;
    double s = (turn * slope_sum - prior * fit->slope) / (data + prior);
    turn_further(comb, fit, d, s);
    fit->hz += d;
    fit->slope += s;
    /* every frame is a witness, one that pulls hard counts for more; neighbours share noise by a sixth each */
    double g2 = 0.0;
    for (int t = 0; t < n && t < WITNESSES; t++) {
        double tau = (t - 0.5 * (n - 1)) * comb->lines->hop_s, pull = 1.0 / n + tau * tau / tau2;
        g2 += square((scatter[t] - turn * information * d * tau * tau) / (1.0 - pull));
    }
    double seen = g2 / square(turn * information * tau2), noise = 1.0 / (square(turn) * information * tau2);
    fit->se_hz = sqrt(4.0 / 3.0 * fmax(seen, noise));
}

static void refine(struct thrum_comb *comb, struct thrum_comb_fit *fit)
{
    turn_back(comb, fit);
    for (int top = 4; top < 2 * HARMONICS; top *= 2)
        for (int round = 0; round < 2; round++)
            fit_step(comb, fit, top < HARMONICS ? top : HARMONICS);
    turn_back(comb, fit);
    gather(comb, fit);
    for (int round = 0; round < 2; round++)
        fit_step(comb, fit, HARMONICS);
}

/* Frequency of one step between frames beside the fitted one, from the phases of all harmonics together. */
static double step_hz(const struct thrum_comb *comb, const struct thrum_comb_fit *fit, int t)
{
    double turned = 0.0, all = 0.0;
    for (int h = 1; h <= WANDER_HARMONICS; h++) {
        const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->lines->max_frames + t;
        const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->lines->max_frames + t;
        if (!fit->hit[h])
            continue;
        double across = (double)im[0] * (double)re[-1] - (double)re[0] * (double)im[-1];
        double along = (double)re[0] * (double)re[-1] + (double)im[0] * (double)im[-1];
        double weight = 1.0 / (comb->unsteady[h] + 0.02);
        turned += weight * h * atan2(across, along);
        all += weight * square(h);
    }
    return all > 0.0 ? turned / all / (2.0 * THRUM_PI * comb->lines->hop_s) : 0.0;
}

static double wander_of(const struct thrum_comb *comb, const struct thrum_comb_fit *fit)
{
    double squares = 0.0;
    for (int t = 1; t < comb->lines->count; t++)
        squares += square(step_hz(comb, fit, t));
    return sqrt(squares / (comb->lines->count - 1));
}

static struct thrum_mains_value value_of(const struct thrum_comb *comb, const struct thrum_comb_fit *fit)
{
    struct thrum_mains_value v = {
        .found = true, .hz = fit->hz, .slope_hz_per_s = fit->slope, .se_hz = fit->se_hz};
    double power = 0.0;
    for (int h = 1; h <= HARMONICS; h++)
        if (fit->hit[h]) {
            power += comb->line[h];
            v.harmonics++;
        }
    v.dbfs = thrum_db_from_power(power);
    v.wander_hz = wander_of(comb, fit);
    return v;
}

/* All harmonics of a mains that was found, heard or not, as far as they moved. */
static void mask_lines(struct thrum_comb *comb, const struct thrum_comb_fit *fit)
{
    double half_s = 0.5 * comb->lines->count * comb->lines->hop_s;
    for (int h = 1; h <= HARMONICS; h++) {
        double moved = h * fabs(fit->slope) * half_s / comb->lines->bin_hz;
        int wide = 2 + (int)fmin(moved + 0.01 * h, 6.0);
        for (int k = fit->bin[h] - wide; k <= fit->bin[h] + wide; k++)
            if (k >= 0 && k < comb->lines->bins)
                comb->masked[k] = true;
    }
}

/* A guess that was not mains: the lines that led to it shall not do so again. */
static void mask_guess(struct thrum_comb *comb, const struct thrum_comb_fit *guess)
{
    double to_hz = thrum_comb_is_beside(comb, guess->hz) ? THRUM_COMB_BESIDE_TO_HZ : THRUM_COMB_LOW_HZ;
    for (int h = 1; h * guess->hz < to_hz; h++)
        if (guess->hit[h])
            comb->masked[guess->bin[h]] = true;
}

/* The mains the unmasked lines tell of; false if there is none. */
static bool next_mains(struct thrum_comb *comb, double least_power, int least_low, struct thrum_comb_fit *fit)
{
    for (int guess = 0; guess < GUESSES; guess++) {
        if (!thrum_comb_guess(comb, least_low, fit))
            return false;
        struct thrum_comb_fit first = *fit;
        refine(comb, fit);
        comb->found[comb->n_found] = value_of(comb, fit);
        if (fit->hits > 0 && thrum_power_from_db(comb->found[comb->n_found].dbfs) >= least_power &&
            hums_on(comb, fit)) {
            mask_lines(comb, fit);
            comb->n_found++;
            return true;
        }
        mask_guess(comb, &first);
    }
    return false;
}

/* Of two neighbours the first was found with the second's lines among its own, or between the two: it is looked for once more. */
static void find_first_again(struct thrum_comb *comb, const struct thrum_comb_fit *second)
{
    struct thrum_mains_value first = comb->found[0];
    struct thrum_comb_fit again;
    comb->found[0] = comb->found[1];
    comb->n_found = 1;
    memset(comb->masked, 0, (size_t)comb->lines->bins * sizeof *comb->masked);
    mask_lines(comb, second);
    if (next_mains(comb, 0.0, 2, &again) && thrum_comb_is_beside(comb, again.hz))
        comb->found[1].dbfs = fmax(comb->found[1].dbfs, first.dbfs); /* its low lines are masked now */
    else
        comb->found[1] = first;
    comb->n_found = 2;
}

void thrum_comb_estimate(struct thrum_comb *comb, struct thrum_mains_value out[THRUM_MAINS_MAX])
{
    struct thrum_mains_value none = {.dbfs = THRUM_FLOOR_DBFS};
    struct thrum_comb_fit fit[THRUM_MAINS_MAX] = {{0}};
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        out[i] = none;
    comb->n_found = 0;
    if (comb->lines->count < 3)
        return;
    thrum_lines_sum(comb->lines);
    memset(comb->masked, 0, (size_t)comb->lines->bins * sizeof *comb->masked);
    double least = fmax(QUIETEST_POWER, QUIETEST_RATIO * comb->lines->total);
    for (int i = 0; i < THRUM_MAINS_MAX && next_mains(comb, least, 1 + i, &fit[i]); i++)
        least = fmax(least, SECOND_RATIO * thrum_power_from_db(comb->found[i].dbfs));
    if (comb->n_found == 2 && thrum_comb_is_beside(comb, comb->found[1].hz))
        find_first_again(comb, &fit[1]);
    for (int i = 0; i < comb->n_found; i++)
        out[i] = comb->found[i];
    if (out[1].found && out[1].dbfs > out[0].dbfs) {
        struct thrum_mains_value swap = out[0];
        out[0] = out[1];
        out[1] = swap;
    }
}

int thrum_comb_others(const struct thrum_comb *comb, double *hz, int most)
{
    struct thrum_lines_tones tones = {comb->avoid, comb->beep_s, comb->n_avoid};
    return thrum_otherlines_list(comb->lines, comb->found, comb->n_found, &tones, hz, most);
}
