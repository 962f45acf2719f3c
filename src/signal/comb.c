#include "signal/comb.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "signal/spectrum.h"
#include "signal/window.h"
#include "thrum/units.h"

/* Evidence is about the natural logarithm of how unlikely a bin's steadiness is in noise. */
#define EVIDENCE_LINE  6.0  /* a bin holds a line */
#define EVIDENCE_CAP   25.0 /* no single line decides alone beyond this */
#define EVIDENCE_ALONE 20.0 /* the fundamental alone is enough */
#define EVIDENCE_COMB  26.0 /* several lines together are enough */
#define LOW_LINE_HZ    290.0
#define AVOID_HZ       4.0
#define PROMINENCE     4.0  /* power over the quiet quarter of the bins around */
#define STEADY_OFF_HZ  0.35 /* a harmonic may seem off by this once drift is taken out */
#define SECOND_RATIO   1e-4 /* of two mains, the weaker may be this much below */
#define SLOPE_SD       0.02 /* Hz per s, what mains does */
#define QUIETEST_RATIO 1e-6 /* hum power to all power */
#define QUIETEST_POWER 1e-12

enum { HARMONICS = THRUM_MAINS_HARMONICS, CANDIDATES = 64 };

struct thrum_comb {
    double rate_hz;
    int frame, hop, bins, max_frames;
    int count, next; /* frames held; slot of the next one */
    double bin_hz, hop_s;
    struct thrum_spectrum *spectrum;
    float *window, *block;                   /* [frame] */
    struct thrum_bin *half;                  /* [frame / 2 + 1] */
    float *re, *im;                          /* [max_frames][bins] */
    float *power, *step_re, *step_im, *pair; /* [bins]: sums over frames, over neighbouring frames */
    bool *masked;                            /* [bins]: a line of the first mains, or avoided */
    double response[64];                     /* loss of a line 0 to 1 bin off, for levels */
    double avoid[THRUM_MAINS_AVOID];
    int n_avoid;
    float *r_re, *r_im;         /* [HARMONICS][max_frames]: the harmonics turned back by the fundamental */
    double line[HARMONICS + 1]; /* power of each harmonic of the last fit; full-scale sine = 1 */
    double total;               /* mean power of the samples in the frames */
};

/* A fundamental while its harmonics are gathered. */
struct fit {
    double hz, var; /* and its variance */
    double evidence, first_evidence;
    double slope, se_hz;
    int hits, low_hits;
    bool hit[HARMONICS + 1];
    int bin[HARMONICS + 1];
};

static double square(double x)
{
    return x * x;
}

enum thrum_status thrum_comb_create(double rate_hz, double frame_s, int max_frames, struct thrum_comb **comb)
{
    *comb = NULL;
    int frame = thrum_spectrum_good_size((int)lrint(rate_hz * frame_s));
    while (frame % 4)
        frame = thrum_spectrum_good_size(frame + 1);
    struct thrum_comb *c = calloc(1, sizeof *c);
    if (!c)
        return THRUM_ERR_MEM;
    c->rate_hz = rate_hz;
    c->frame = frame;
    c->hop = frame / 2;
    c->bin_hz = rate_hz / frame;
    c->hop_s = c->hop / rate_hz;
    c->max_frames = max_frames;
    int top = (int)(fmin(0.48 * rate_hz, HARMONICS * THRUM_MAINS_MAX_HZ) / c->bin_hz);
    c->bins = (top + 4) & ~3;
    size_t n = (size_t)frame, bins = (size_t)c->bins, frames = (size_t)max_frames;
    c->window = calloc(n, sizeof *c->window);
    c->block = calloc(n, sizeof *c->block);
    c->half = calloc(n / 2 + 1, sizeof *c->half);
    c->re = calloc(frames * bins, sizeof *c->re);
    c->im = calloc(frames * bins, sizeof *c->im);
    c->power = calloc(bins, sizeof *c->power);
    c->step_re = calloc(bins, sizeof *c->step_re);
    c->step_im = calloc(bins, sizeof *c->step_im);
    c->pair = calloc(bins, sizeof *c->pair);
    c->masked = calloc(bins, sizeof *c->masked);
    c->r_re = calloc(HARMONICS * frames, sizeof *c->r_re);
    c->r_im = calloc(HARMONICS * frames, sizeof *c->r_im);
    enum thrum_status status = thrum_spectrum_create(frame, &c->spectrum);
    if (status || !c->window || !c->block || !c->half || !c->re || !c->im || !c->power || !c->step_re ||
        !c->step_im || !c->pair || !c->masked || !c->r_re || !c->r_im)
        goto fail;
    thrum_window_fill(THRUM_WINDOW_HANN, true, c->window, frame);
    for (int i = 0; i < 64; i++)
        c->response[i] = thrum_window_response(c->window, frame, i / 63.0);
    *comb = c;
    return THRUM_OK;
fail:
    thrum_comb_destroy(c);
    return status ? status : THRUM_ERR_MEM;
}

void thrum_comb_destroy(struct thrum_comb *comb)
{
    if (!comb)
        return;
    thrum_spectrum_destroy(comb->spectrum);
    free(comb->window);
    free(comb->block);
    free(comb->half);
    free(comb->re);
    free(comb->im);
    free(comb->power);
    free(comb->step_re);
    free(comb->step_im);
    free(comb->pair);
    free(comb->masked);
    free(comb->r_re);
    free(comb->r_im);
    free(comb);
}

void thrum_comb_avoid(struct thrum_comb *comb, const double *tones_hz, int n)
{
    comb->n_avoid = n < 0 ? 0 : n > THRUM_MAINS_AVOID ? THRUM_MAINS_AVOID : n;
    for (int i = 0; i < comb->n_avoid; i++)
        comb->avoid[i] = tones_hz[i];
}

int thrum_comb_frame(const struct thrum_comb *comb)
{
    return comb->frame;
}

int thrum_comb_max_frames(const struct thrum_comb *comb)
{
    return comb->max_frames;
}

int thrum_comb_count(const struct thrum_comb *comb)
{
    return comb->count;
}

void thrum_comb_clear(struct thrum_comb *comb)
{
    comb->count = 0;
    comb->next = 0;
}

void thrum_comb_push(struct thrum_comb *comb, const float *x)
{
    for (int i = 0; i < comb->frame; i++)
        comb->block[i] = x[i] * comb->window[i];
    thrum_spectrum_forward(comb->spectrum, comb->block, comb->half);
    float *re = comb->re + (size_t)comb->next * (size_t)comb->bins;
    float *im = comb->im + (size_t)comb->next * (size_t)comb->bins;
    for (int k = 0; k < comb->bins; k++) {
        re[k] = comb->half[k].re;
        im[k] = comb->half[k].im;
    }
    comb->next = (comb->next + 1) % comb->max_frames;
    if (comb->count < comb->max_frames)
        comb->count++;
}

/* Slot of the t-th frame held, oldest first. */
static size_t slot(const struct thrum_comb *comb, int t)
{
    int from = (comb->next - comb->count + comb->max_frames) % comb->max_frames;
    return (size_t)((from + t) % comb->max_frames) * (size_t)comb->bins;
}

static void sum_frames(struct thrum_comb *comb)
{
    int bins = comb->bins;
    float *restrict power = comb->power, *restrict step_re = comb->step_re, *restrict step_im = comb->step_im;
    memset(power, 0, (size_t)bins * sizeof *power);
    memset(step_re, 0, (size_t)bins * sizeof *step_re);
    memset(step_im, 0, (size_t)bins * sizeof *step_im);
    for (int t = 0; t < comb->count; t++) {
        const float *restrict re = comb->re + slot(comb, t), *restrict im = comb->im + slot(comb, t);
        for (int k = 0; k < bins; k++)
            power[k] += re[k] * re[k] + im[k] * im[k];
        if (t == 0)
            continue;
        const float *restrict was_re = comb->re + slot(comb, t - 1), *restrict was_im =
                                                                         comb->im + slot(comb, t - 1);
        for (int k = 0; k < bins; k++) {
            step_re[k] += re[k] * was_re[k] + im[k] * was_im[k];
            step_im[k] += im[k] * was_re[k] - re[k] * was_im[k];
        }
    }
    const float *first_re = comb->re + slot(comb, 0), *first_im = comb->im + slot(comb, 0);
    const float *last_re = comb->re + slot(comb, comb->count - 1),
                *last_im = comb->im + slot(comb, comb->count - 1);
    for (int k = 0; k < bins; k++)
        comb->pair[k] = power[k] - 0.5f * (first_re[k] * first_re[k] + first_im[k] * first_im[k] +
                                           last_re[k] * last_re[k] + last_im[k] * last_im[k]);
    double total = 0.0;
    for (int k = 1; k < bins; k++)
        total += (double)power[k];
    /* a sine of power p leaves p (n / 4)^2 2 * 1.5 over the bins of its main lobe */
    comb->total = total / comb->count / (square(comb->frame / 4.0) * 3.0);
}

/* How steady bin k is: 1 for a pure line, about 0.2 for noise. */
static double steadiness(const struct thrum_comb *comb, int k)
{
    double pair = (double)comb->pair[k];
    if (!(pair > 0.0))
        return 0.0;
    return fmin(hypot((double)comb->step_re[k], (double)comb->step_im[k]) / pair, 1.0);
}

static double evidence(const struct thrum_comb *comb, int k)
{
    double g = steadiness(comb, k);
    return -0.8 * (comb->count - 1) * log(fmax(1.0 - g * g, 1e-4));
}

/* Whether bin k stands out of its surroundings: the skirt of a keyed tone is steady too, but smooth. */
static bool is_prominent(const struct thrum_comb *comb, int k)
{
    float around[10];
    int n = 0;
    for (int d = 3; d <= 7; d++)
        for (int side = -1; side <= 1; side += 2)
            if (k + side * d > 0 && k + side * d < comb->bins)
                around[n++] = comb->power[k + side * d];
    for (int i = 1; i < n; i++) { /* a short list: insertion */
        float value = around[i];
        int j = i;
        for (; j > 0 && around[j - 1] > value; j--)
            around[j] = around[j - 1];
        around[j] = value;
    }
    return n > 0 && (double)comb->power[k] > PROMINENCE * (double)around[n / 4];
}

/* Frequency of the line in bin k from its phase step; within one bin of k. */
static double line_hz(const struct thrum_comb *comb, int k)
{
    double turn = atan2((double)comb->step_im[k], (double)comb->step_re[k]) / THRUM_PI - (k % 2);
    return (k + turn - 2.0 * nearbyint(turn / 2.0)) * comb->bin_hz;
}

/* Variance of line_hz(): noise, and a floor for what moves within the frames. */
static double line_variance(const struct thrum_comb *comb, double g)
{
    double noise = (1.0 - g * g) / (2.0 * g * g * (comb->count - 1));
    return noise / square(2.0 * THRUM_PI * comb->hop_s) + square(0.02);
}

static bool is_avoided(const struct thrum_comb *comb, double hz)
{
    for (int i = 0; i < comb->n_avoid; i++)
        if (fabs(comb->avoid[i] - hz) < AVOID_HZ)
            return true;
    return false;
}

/* Goes up the harmonics of a guess; every line that fits counts and narrows the guess. */
static struct fit climb(const struct thrum_comb *comb, double hz, double var)
{
    struct fit fit = {.hz = hz, .var = var};
    for (int h = 1; h <= HARMONICS; h++) {
        double expected = h * fit.hz;
        int k = (int)lrint(expected / comb->bin_hz);
        if (k >= comb->bins)
            break;
        fit.bin[h] = k;
        if (comb->masked[k] || is_avoided(comb, expected))
            continue;
        double e = evidence(comb, k);
        if (e < EVIDENCE_LINE || !is_prominent(comb, k))
            continue;
        double g = steadiness(comb, k), noise = line_variance(comb, g);
        double off = line_hz(comb, k) - expected;
        if (square(off) > 9.0 * (square(h) * fit.var + noise) || fabs(off) > 0.8 * comb->bin_hz)
            continue;
        double gain = h * fit.var / (square(h) * fit.var + noise);
        fit.hz += gain * off;
        fit.var *= 1.0 - gain * h;
        fit.hit[h] = true;
        fit.hits++;
        fit.low_hits += expected < LOW_LINE_HZ;
        fit.evidence += fmin(e, EVIDENCE_CAP);
        if (h == 1)
            fit.first_evidence = e;
    }
    return fit;
}

static bool is_convincing(const struct fit *fit)
{
    if (fit->hz < THRUM_MAINS_MIN_HZ || fit->hz > THRUM_MAINS_MAX_HZ || fit->low_hits == 0)
        return false;
    if (fit->hit[1] && fit->first_evidence >= EVIDENCE_ALONE)
        return true;
    return fit->hits >= 2 && fit->evidence >= EVIDENCE_COMB;
}

/* Tries the fundamentals that the low lines suggest. */
static bool best_fundamental(const struct thrum_comb *comb, struct fit *best)
{
    int tried = 0;
    bool found = false;
    int from = (int)(0.95 * THRUM_MAINS_MIN_HZ / comb->bin_hz), to = (int)(LOW_LINE_HZ / comb->bin_hz);
    for (int k = from; k <= to && tried < CANDIDATES; k++) {
        if (comb->masked[k] || comb->power[k] < comb->power[k - 1] || comb->power[k] <= comb->power[k + 1] ||
            evidence(comb, k) < EVIDENCE_LINE)
            continue;
        double hz = line_hz(comb, k), var = line_variance(comb, steadiness(comb, k));
        for (int h = 1; h <= 6 && tried < CANDIDATES; h++) {
            if (hz / h < THRUM_MAINS_MIN_HZ - 0.2 || hz / h > THRUM_MAINS_MAX_HZ + 0.2)
                continue;
            tried++;
            struct fit fit = climb(comb, hz / h, 4.0 * var / square(h));
            if (is_convincing(&fit) && (!found || fit.evidence > best->evidence)) {
                *best = fit;
                found = true;
            }
        }
    }
    return found;
}

/* Takes the harmonics out of the frames and turns them back by the fundamental: what is left stands nearly still.
   Phases are those in the middle of a frame, where they do not depend on the bin a line is read in; so a drifting
   line may be followed from bin to bin. */
static void turn_back(struct thrum_comb *comb, const struct fit *fit)
{
    int n = comb->count;
    for (int t = 0; t < n; t++) {
        double tau = (t - 0.5 * (n - 1)) * comb->hop_s, hz = fit->hz + fit->slope * tau;
        double cycles = fit->hz * tau + 0.5 * fit->slope * tau * tau;
        double phase = -2.0 * THRUM_PI * (cycles - floor(cycles));
        double one_re = cos(phase), one_im = sin(phase), re = 1.0, im = 0.0;
        size_t from = slot(comb, t);
        for (int h = 1; h <= HARMONICS; h++) {
            double next = re * one_re - im * one_im;
            im = re * one_im + im * one_re;
            re = next;
            double place = h * hz / comb->bin_hz;
            int k = (int)(place + 0.5);
            if (k >= comb->bins)
                break;
            double loss = comb->response[(int)(fabs(place - k) * 63.0 + 0.5)] * (k % 2 ? -1.0 : 1.0);
            double x = (double)comb->re[from + (size_t)k] / loss,
                   y = (double)comb->im[from + (size_t)k] / loss;
            size_t at = (size_t)(h - 1) * (size_t)comb->max_frames + (size_t)t;
            comb->r_re[at] = (float)(x * re - y * im);
            comb->r_im[at] = (float)(x * im + y * re);
        }
    }
}

/* With the drift taken out, asks every harmonic again whether it is a steady line, and how strong. */
static void gather(struct thrum_comb *comb, struct fit *fit)
{
    int n = comb->count, top = (int)((comb->bins - 2) * comb->bin_hz / (fit->hz + 0.5));
    fit->hits = 0;
    for (int h = 1; h <= HARMONICS; h++) {
        fit->hit[h] = false;
        fit->bin[h] = (int)(h * fit->hz / comb->bin_hz + 0.5);
        if (h > top || comb->masked[fit->bin[h]] || is_avoided(comb, h * fit->hz))
            continue;
        const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->max_frames;
        const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->max_frames;
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
        double e = -0.8 * (n - 1) * log(fmax(1.0 - g2, 1e-4));
        double off = atan2(step_im, step_re) / (2.0 * THRUM_PI * comb->hop_s);
        double noise =
            sqrt((1.0 - fmin(g2, 1.0)) / (2.0 * fmax(g2, 1e-3) * (n - 1))) / (2.0 * THRUM_PI * comb->hop_s);
        if (e < EVIDENCE_LINE || !is_prominent(comb, fit->bin[h]) || fabs(off) > STEADY_OFF_HZ + 3.0 * noise)
            continue;
        fit->hit[h] = true;
        fit->hits++;
        comb->line[h] = sqrt(square(step_re) + square(step_im)) / (n - 1) / square(comb->frame / 4.0);
    }
}

/* Turns harmonic h of frame t by a further h * (tau d + (tau^2 - q) s / 2) cycles back. */
static void turn_further(struct thrum_comb *comb, const struct fit *fit, double d, double s)
{
    for (int t = 0; t < comb->count; t++) {
        double tau = (t - 0.5 * (comb->count - 1)) * comb->hop_s;
        double phase = -2.0 * THRUM_PI * (tau * d + 0.5 * tau * tau * s);
        double one_re = cos(phase), one_im = sin(phase), re = 1.0, im = 0.0;
        for (int h = 1; h <= HARMONICS; h++) {
            double next = re * one_re - im * one_im;
            im = re * one_im + im * one_re;
            re = next;
            if (!fit->hit[h])
                continue;
            size_t at = (size_t)(h - 1) * (size_t)comb->max_frames + (size_t)t;
            double x = (double)comb->r_re[at], y = (double)comb->r_im[at];
            comb->r_re[at] = (float)(x * re - y * im);
            comb->r_im[at] = (float)(x * im + y * re);
        }
    }
}

/* One step of the joint fit of frequency and drift over the harmonics up to `top`. */
static void fit_step(struct thrum_comb *comb, struct fit *fit, int top)
{
    int n = comb->count;
    double tau2 = 0.0, tau4 = 0.0;
    for (int t = 0; t < n; t++) {
        double tau = (t - 0.5 * (n - 1)) * comb->hop_s;
        tau2 += tau * tau;
        tau4 += square(tau * tau);
    }
    double mean2 = tau2 / n, spread = tau4 - n * square(mean2);
    double information = 0.0, hz_sum = 0.0, slope_sum = 0.0, scatter[256] = {0};
    for (int h = 1; h <= top; h++) {
        if (!fit->hit[h])
            continue;
        const float *re = comb->r_re + (size_t)(h - 1) * (size_t)comb->max_frames;
        const float *im = comb->r_im + (size_t)(h - 1) * (size_t)comb->max_frames;
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
            double tau = (t - 0.5 * (n - 1)) * comb->hop_s;
            double across = (double)im[t] * c_re - (double)re[t] * c_im;
            hz_sum += weight * across * tau;
            slope_sum += weight * across * 0.5 * (tau * tau - mean2);
            scatter[t % 256] += weight * across * tau;
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
    double g2 = 0.0; /* frames as witnesses: neighbours overlap, so by 1.5 */
    for (int t = 0; t < n && t < 256; t++)
        g2 += square(scatter[t] - turn * information * d * square((t - 0.5 * (n - 1)) * comb->hop_s));
    fit->se_hz = sqrt(1.5 * g2 * n / fmax(n - 2, 1)) / (turn * information * tau2);
}

static void refine(struct thrum_comb *comb, struct fit *fit)
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

static struct thrum_mains_value value_of(const struct thrum_comb *comb, const struct fit *fit)
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
    return v;
}

/* All harmonics of a mains that was found, heard or not, as far as they moved. */
static void mask_lines(struct thrum_comb *comb, const struct fit *fit)
{
    double half_s = 0.5 * comb->count * comb->hop_s;
    for (int h = 1; h <= HARMONICS; h++) {
        double moved = h * fabs(fit->slope) * half_s / comb->bin_hz;
        int wide = 2 + (int)fmin(moved + 0.01 * h, 6.0);
        for (int k = fit->bin[h] - wide; k <= fit->bin[h] + wide; k++)
            if (k >= 0 && k < comb->bins)
                comb->masked[k] = true;
    }
}

void thrum_comb_estimate(struct thrum_comb *comb, struct thrum_mains_value out[THRUM_MAINS_MAX])
{
    struct thrum_mains_value none = {.dbfs = THRUM_FLOOR_DBFS};
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        out[i] = none;
    if (comb->count < 3)
        return;
    sum_frames(comb);
    memset(comb->masked, 0, (size_t)comb->bins * sizeof *comb->masked);
    int found = 0;
    while (found < THRUM_MAINS_MAX) {
        struct fit fit = {0};
        if (!best_fundamental(comb, &fit))
            break;
        refine(comb, &fit);
        struct thrum_mains_value value = value_of(comb, &fit);
        double power = thrum_power_from_db(value.dbfs);
        if (power < QUIETEST_POWER || power < QUIETEST_RATIO * comb->total || fit.hits == 0 ||
            (found && power < SECOND_RATIO * thrum_power_from_db(out[0].dbfs)))
            break;
        mask_lines(comb, &fit);
        out[found++] = value;
    }
    if (found == 2 && out[1].dbfs > out[0].dbfs) {
        struct thrum_mains_value swap = out[0];
        out[0] = out[1];
        out[1] = swap;
    }
}
