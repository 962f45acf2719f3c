#include "signal/touchfit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "signal/baseband.h"
#include "signal/chance.h"
#include "signal/tonefit.h"
#include "thrum/units.h"

#define EDGES_PER_BEEP 5.0 /* pass band times shortest step: loses 2 % of a beep's energy at its edges */
#define PASS_LEAST_HZ  30.0
#define PASS_MOST_HZ   125.0
#define NEAR_HZ        15.0   /* hum lines nearer to the tone than this are estimated together with it */
#define ON_TONE_HZ     4.0    /* a line this near hides where the tone is: several starts are tried */
#define LEAK           1.6e-3 /* -28 dB */
#define LEAK_HZ        1.5
#define TANGLED_STEPS  6    /* of the pattern, tried in each other's place */
#define LONGEST_S      0.6  /* longer tones are measured in parts */
#define LEAST_PART     0.25 /* of a beep that must lie in the stretch for it to be measured */
#define STEPS          5    /* Gauss-Newton steps at most */
#define HOPELESS       0.0  /* evidence below this in the first look: noise reaches it in one touch of four */
#define OFFSET_SD_HZ   20.0
#define PHASE_SD_S     0.05
#define SLOPE_SD       0.2 /* Hz/s */
#define SCALE_SD       1e-3
#define EDGE_SD_S      2e-3
#define STEP_SD_S      0.02

/* Numbers that are climbed: drift, then the timings, then each tone's offset. */
enum { SLOPE, TIMINGS, OFFSETS = TIMINGS + THRUM_TONEFIT_TIMINGS, NUMBERS = OFFSETS + THRUM_VOICE_TONES };

struct tone {
    struct thrum_baseband *baseband;
    struct thrum_tonefit *fit;
    struct cplx *raw;   /* [count_max] as received */
    struct cplx *z;     /* [count_max] far hum lines taken out */
    struct cplx *clean; /* [count_max] all hum taken out */
    struct cplx *rest;  /* [count_max] hum and beeps taken out */
    int n_near, n_far;
    struct thrum_hum_line near[THRUM_TONEFIT_LINES], far[THRUM_HUMLINES_MAX];
    double noise; /* variance of z by noise */
};

/* Sums over all tones and parts at one state. */
struct sums {
    double cost; /* residual over noise */
    double left[THRUM_VOICE_TONES], dof[THRUM_VOICE_TONES];
    double power, on, variance;
    double curvature[NUMBERS][NUMBERS], uphill[NUMBERS], power_moves[NUMBERS];
};

struct thrum_touchfit {
    struct thrum_voice voice;
    double rate_hz;
    size_t count_max, first, count;
    bool free_steps;
    int n_timings;
    struct tone tone[THRUM_VOICE_TONES];
    struct thrum_baseband *basebands[THRUM_VOICE_TONES];
    struct thrum_lock *lock;
    struct sums sums;
    struct thrum_touchfit_result result;
};

static enum thrum_status make_tone(struct thrum_touchfit *f, int k, double pass_hz)
{
    struct tone *tone = &f->tone[k];
    enum thrum_status status =
        thrum_baseband_create(f->rate_hz, f->voice.tones_hz[k], pass_hz, &tone->baseband);
    if (status)
        return status;
    f->basebands[k] = tone->baseband;
    f->count_max = (size_t)(THRUM_TOUCHFIT_MAX_S * tone->baseband->step_hz) + 2;
    tone->z = calloc(f->count_max, sizeof *tone->z);
    tone->clean = calloc(f->count_max, sizeof *tone->clean);
    tone->raw = calloc(f->count_max, sizeof *tone->raw);
    tone->rest = calloc(f->count_max, sizeof *tone->rest);
    if (!tone->z || !tone->clean || !tone->raw || !tone->rest)
        return THRUM_ERR_MEM;
    return thrum_tonefit_create(tone->baseband, thrum_fit_part_max(tone->baseband), &tone->fit);
}

enum thrum_status thrum_touchfit_create(double rate_hz, const struct thrum_voice *voice,
                                        struct thrum_touchfit **fit)
{
    *fit = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz < 16000.0) || thrum_voice_check(voice, NULL))
        return THRUM_ERR_ARG;
    struct thrum_touchfit *f = calloc(1, sizeof *f);
    if (!f)
        return THRUM_ERR_MEM;
    f->voice = *voice;
    f->rate_hz = rate_hz;
    double pass = EDGES_PER_BEEP / fmin(thrum_beeps_shortest_s(voice), 1.0);
    pass = THRUM_TOUCHFIT_REACH_HZ + fmin(fmax(pass, PASS_LEAST_HZ), PASS_MOST_HZ);
    enum thrum_status status = THRUM_OK;
    for (int k = 0; k < voice->n_tones && !status; k++)
        status = make_tone(f, k, pass);
    if (!status)
        status = thrum_lock_create(voice, f->basebands, f->count_max, &f->lock);
    if (status) {
        thrum_touchfit_destroy(f);
        return status;
    }
    *fit = f;
    return THRUM_OK;
}

void thrum_touchfit_destroy(struct thrum_touchfit *fit)
{
    if (!fit)
        return;
    thrum_lock_destroy(fit->lock);
    for (int k = 0; k < THRUM_VOICE_TONES; k++) {
        struct tone *tone = &fit->tone[k];
        thrum_tonefit_destroy(tone->fit);
        thrum_baseband_destroy(tone->baseband);
        free(tone->z);
        free(tone->clean);
        free(tone->raw);
        free(tone->rest);
    }
    free(fit);
}

static double middle_s(const struct thrum_touchfit *f)
{
    return ((double)f->first + 0.5 * (double)f->count) / f->basebands[0]->step_hz;
}

static double mean_power(const struct cplx *z, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += cplx_power(z[i]);
    return sum / (double)n;
}

/* Far lines go out of z for good; near ones only out of `clean`, for the first look, and wait for the joint fit. */
static void prepare_tone(struct thrum_touchfit *f, struct tone *tone, const struct thrum_touchfit_job *job)
{
    struct thrum_hum_line lines[THRUM_HUMLINES_MAX];
    int n = thrum_humlines_list(tone->baseband, job->hum, job->n_hum, middle_s(f), lines);
    tone->n_near = tone->n_far = 0;
    memcpy(tone->z, tone->raw, f->count * sizeof *tone->z);
    for (int i = 0; i < n; i++) {
        if (fabs(lines[i].offset_hz) <= NEAR_HZ)
            continue;
        lines[i].power = thrum_humlines_take_out(tone->fit, tone->baseband, &lines[i], tone->z, f->first,
                                                 f->count, tone->z);
        tone->far[tone->n_far++] = lines[i];
    }
    memcpy(tone->clean, tone->z, f->count * sizeof *tone->z);
    for (int i = 0; i < n; i++) {
        if (fabs(lines[i].offset_hz) > NEAR_HZ || tone->n_near == THRUM_TONEFIT_LINES - 1)
            continue;
        lines[i].power = thrum_humlines_take_out(tone->fit, tone->baseband, &lines[i], tone->clean, f->first,
                                                 f->count, tone->clean);
        tone->near[tone->n_near++] = lines[i];
        f->result.hum_on_tone |= fabs(lines[i].offset_hz) < 3.0;
    }
    tone->noise = fmax(mean_power(tone->clean, f->count) / tone->baseband->colour, 1e-30);
}

static void use_clean(struct thrum_touchfit *f)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES];
    for (int k = 0; k < f->voice.n_tones; k++) {
        z[k] = f->tone[k].clean;
        noise[k] = f->tone[k].noise;
    }
    thrum_lock_use(f->lock, z, f->first, f->count, noise);
}

/* Noise from what the beeps leave over, all tones together. */
static void noise_beside_beeps(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct thrum_lock_energy all = thrum_lock_measure(f->lock, state);
    double dof = (double)f->count * f->basebands[0]->colour * f->voice.n_tones, left = 0.0;
    for (int k = 0; k < f->voice.n_tones; k++)
        left += mean_power(f->tone[k].clean, f->count) * (double)f->count / f->tone[k].noise;
    double share = (left - all.explained) / fmax(dof - all.beeps, 1.0);
    for (int k = 0; k < f->voice.n_tones; k++)
        f->tone[k].noise *= fmax(share, 1e-9);
    use_clean(f);
}

static void look_everywhere(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    use_clean(f);
    f->result.evidence = thrum_lock_search(f->lock, THRUM_TOUCHFIT_REACH_HZ, state);
    noise_beside_beeps(f, state);
    thrum_lock_refine(f->lock, state);
    noise_beside_beeps(f, state);
}

/* How a beep's edge moves with the timing numbers, in analysis samples. `step`: steps of the pattern before it. */
static void edge_moves(const struct thrum_touchfit *f, const struct thrum_lock_state *state, double at_s,
                       int cycle, int step, bool stretches, double *moves)
{
    double scale = state->timing.scale, rate = f->rate_hz;
    moves[0] = -scale * rate;
    if (!f->free_steps) {
        moves[1] = (at_s - middle_s(f)) / scale * rate;
        moves[2] = stretches ? rate : 0.0;
        return;
    }
    double begin = state->timing.start_s - middle_s(f) / scale;
    int number = cycle + (int)floor(begin / thrum_voice_cycle_s(&f->voice));
    for (int i = 0; i < f->voice.n_steps; i++)
        moves[1 + i] = scale * rate * (number + (i < step ? 1 : 0));
}

/* The beeps of one tone that the filter hears in one part. What lies mostly outside is fitted but weighs nothing. */
static int part_beeps(struct thrum_touchfit *f, const struct thrum_lock_state *state, int tone,
                      const struct thrum_fit_input *in, struct thrum_beep *beeps, struct thrum_fit_beep *fit)
{
    const struct thrum_baseband *b = f->tone[tone].baseband;
    struct thrum_timing timing = thrum_lock_timing(f->lock, state);
    struct thrum_beep all[2 * THRUM_TONEFIT_BEEPS];
    double from_s = ((double)in->first - 0.5) / b->step_hz,
           to_s = ((double)(in->first + in->count) - 0.5) / b->step_hz;
    double reach_s = (b->half + 1) / b->rate_hz;
    int n = thrum_beeps_list(&f->voice, &timing, from_s - reach_s, to_s + reach_s, LONGEST_S, all,
                             2 * THRUM_TONEFIT_BEEPS),
        kept = 0;
    for (int i = 0; i < n && kept < THRUM_TONEFIT_BEEPS; i++) {
        double length = fmin(all[i].to_s, to_s) - fmax(all[i].from_s, from_s);
        if (all[i].tone != tone)
            continue;
        struct thrum_fit_beep *beep = &fit[kept];
        *beep = (struct thrum_fit_beep){.from = all[i].from_s * b->rate_hz, .to = all[i].to_s * b->rate_hz};
        if (length >= LEAST_PART * fmin(all[i].whole_s, LONGEST_S))
            beep->weight = length;
        if (all[i].begins)
            edge_moves(f, state, all[i].from_s, all[i].cycle, all[i].step, false, beep->from_moves);
        if (all[i].ends)
            edge_moves(f, state, all[i].to_s, all[i].cycle, all[i].step + 1, all[i].before_pause,
                       beep->to_moves);
        beeps[kept++] = all[i];
    }
    return kept;
}

/* Mean power and its variance: sum w |A + e|^2 scatters by 2 Re(A_i* C_ij A_j) + |C_ij|^2, the A being noisy too. */
static void add_power(struct thrum_touchfit *f, const struct thrum_beep *beeps,
                      const struct thrum_fit_input *in, const struct thrum_fit_output *out)
{
    struct thrum_touchfit_result *r = &f->result;
    double variance = 0.0;
    for (int i = 0; i < in->n_beeps; i++) {
        double wi = in->beeps[i].weight, vi = in->noise * out->covariance[i * out->stride + i].re;
        if (wi > 0.0 && r->n_beeps < THRUM_TOUCHFIT_BEEPS) {
            r->beep[r->n_beeps] = beeps[i];
            r->beep_power[r->n_beeps] = cplx_power(out->amplitude[i]) - vi;
            r->beep_variance[r->n_beeps++] = vi;
        }
        f->sums.power += wi * (cplx_power(out->amplitude[i]) - vi);
        f->sums.on += wi;
        for (int j = 0; j < in->n_beeps; j++) {
            struct cplx c = cplx_scale(out->covariance[i * out->stride + j], in->noise);
            double cross = cplx_mul_conj(out->amplitude[i], cplx_mul(c, out->amplitude[j])).re;
            variance += wi * in->beeps[j].weight * (2.0 * cross - cplx_power(c));
        }
    }
    f->sums.variance += fmax(variance, 0.0);
}

/* Put one part's slope where its numbers are in the whole. */
static void add_slope(struct thrum_touchfit *f, int tone, const struct thrum_fit_slope *slope)
{
    double ratio = f->voice.tones_hz[tone] / f->voice.tones_hz[0], noise = f->tone[tone].noise;
    int where[THRUM_TONEFIT_CURVED];
    double by[THRUM_TONEFIT_CURVED];
    for (int i = 0; i < slope->n; i++) {
        where[i] = i == 0 ? OFFSETS + tone : i == 1 ? SLOPE : TIMINGS + i - 2;
        by[i] = i == 1 ? ratio : 1.0;
    }
    for (int i = 0; i < slope->n; i++) {
        for (int j = 0; j < slope->n; j++)
            f->sums.curvature[where[i]][where[j]] += by[i] * by[j] * slope->curvature[i][j] / noise;
        f->sums.uphill[where[i]] += by[i] * slope->uphill[i] / noise;
        f->sums.power_moves[where[i]] += by[i] * slope->power_moves[i];
    }
}

/* One part of one tone. */
static void fit_part(struct thrum_touchfit *f, const struct thrum_lock_state *state, int k, size_t part)
{
    struct tone *tone = &f->tone[k];
    struct thrum_fit_input in = thrum_fit_part(tone->baseband, tone->z, f->first, f->count, part);
    struct thrum_fit_beep fit[THRUM_TONEFIT_BEEPS];
    struct thrum_beep beeps[THRUM_TONEFIT_BEEPS];
    struct thrum_fit_output out;
    struct thrum_fit_slope slope = {0};
    size_t at = in.first - f->first;
    in.n_beeps = part_beeps(f, state, k, &in, beeps, fit);
    in.beeps = fit;
    in.n_timings = f->n_timings;
    in.offset_hz = state->tone_offset_hz[k];
    in.slope_hz_per_s = state->slope_hz_per_s * f->voice.tones_hz[k] / f->voice.tones_hz[0];
    in.about_s = middle_s(f);
    in.lines = tone->near;
    in.n_lines = tone->n_near;
    in.noise = tone->noise;
    if (thrum_tonefit_run(tone->fit, &in, &out))
        return;
    memcpy(tone->clean + at, out.no_hum, in.count * sizeof *out.no_hum);
    memcpy(tone->rest + at, out.residual, in.count * sizeof *out.residual);
    double left = mean_power(out.residual, in.count) * (double)in.count;
    f->sums.cost += left / tone->noise;
    f->sums.left[k] += left;
    f->sums.dof[k] += (double)in.count * tone->baseband->colour - in.n_beeps - in.n_lines * 4.0 - 3.0;
    add_power(f, beeps, &in, &out);
    thrum_tonefit_slope(tone->fit, &in, &slope);
    add_slope(f, k, &slope);
}

static double prior_cost(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double slope = state->slope_hz_per_s / SLOPE_SD, scale = (state->timing.scale - 1.0) / SCALE_SD;
    double edge = state->timing.stretch_s / EDGE_SD_S;
    return 0.5 * (slope * slope + (f->free_steps ? 0.0 : scale * scale + edge * edge));
}

/* Everything at one state; sums.cost is what the climb makes small. */
static void fit_all(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    memset(&f->sums, 0, sizeof f->sums);
    f->result.n_beeps = 0;
    for (int k = 0; k < f->voice.n_tones; k++)
        for (size_t i = 0; i < thrum_fit_parts(f->basebands[0], f->count); i++)
            fit_part(f, state, k, i);
    f->sums.cost += prior_cost(f, state);
}

/* Weight of the prior of each number, as curvature, and its pull. */
static void add_priors(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                       struct sums *sums)
{
    double sd[NUMBERS], away[NUMBERS] = {0};
    for (int i = 0; i < NUMBERS; i++)
        sd[i] = i >= OFFSETS ? OFFSET_SD_HZ : STEP_SD_S;
    sd[SLOPE] = SLOPE_SD;
    away[SLOPE] = state->slope_hz_per_s;
    sd[TIMINGS] = PHASE_SD_S;
    if (!f->free_steps) {
        sd[TIMINGS + 1] = SCALE_SD;
        away[TIMINGS + 1] = state->timing.scale - 1.0;
        sd[TIMINGS + 2] = EDGE_SD_S;
        away[TIMINGS + 2] = state->timing.stretch_s;
    }
    for (int i = 0; i < NUMBERS; i++) {
        sums->curvature[i][i] += 0.5 / (sd[i] * sd[i]);
        sums->uphill[i] -= 0.5 * away[i] / (sd[i] * sd[i]);
    }
}

/* Cholesky factor of the curvature, in place (lower triangle). The priors make it definite. */
static bool factor(double a[NUMBERS][NUMBERS])
{
    for (int j = 0; j < NUMBERS; j++) {
        for (int i = 0; i < j; i++) {
            for (int k = 0; k < i; k++)
                a[j][i] -= a[i][k] * a[j][k];
            a[j][i] /= a[i][i];
        }
        for (int k = 0; k < j; k++)
            a[j][j] -= a[j][k] * a[j][k];
        if (!(a[j][j] > 0.0))
            return false;
        a[j][j] = sqrt(a[j][j]);
    }
    return true;
}

static void forward(double l[NUMBERS][NUMBERS], double *b)
{
    for (int i = 0; i < NUMBERS; i++) {
        for (int k = 0; k < i; k++)
            b[i] -= l[i][k] * b[k];
        b[i] /= l[i][i];
    }
}

static void back(double l[NUMBERS][NUMBERS], double *b)
{
    for (int i = NUMBERS - 1; i >= 0; i--) {
        for (int k = i + 1; k < NUMBERS; k++)
            b[i] -= l[k][i] * b[k];
        b[i] /= l[i][i];
    }
}

static double limited(double value, double most)
{
    return value < -most ? -most : value > most ? most : value;
}

static void step_state(struct thrum_touchfit *f, struct thrum_lock_state *state, const double *step,
                       double share)
{
    double shortest = f->voice.steady ? 1.0 : thrum_beeps_shortest_s(&f->voice);
    double longest = fmin(fmax(thrum_beeps_longest_tone_s(&f->voice), 0.05), LONGEST_S);
    state->slope_hz_per_s += limited(share * step[SLOPE], 0.5);
    for (int k = 0; k < f->voice.n_tones; k++)
        state->tone_offset_hz[k] += limited(share * step[OFFSETS + k], 0.5 / longest);
    state->offset_hz = state->tone_offset_hz[0];
    if (f->voice.steady)
        return;
    state->timing.start_s += limited(share * step[TIMINGS], 0.3 * shortest);
    if (!f->free_steps) {
        state->timing.scale += limited(share * step[TIMINGS + 1], 2e-3);
        state->timing.stretch_s += limited(share * step[TIMINGS + 2], 0.2 * shortest);
        return;
    }
    for (int i = 0; i < f->voice.n_steps; i++)
        f->voice.step[i].s += limited(share * step[TIMINGS + 1 + i], 0.25 * f->voice.step[i].s);
    thrum_lock_set_steps(f->lock, &f->voice);
}

/* Gauss-Newton from state; leaves sums and beeps at the best state found. Returns the cost. */
static double climb(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    fit_all(f, state);
    for (int i = 0; i < STEPS; i++) {
        struct sums sums = f->sums;
        struct thrum_lock_state before = *state;
        struct thrum_voice voice_before = f->voice;
        double share = 1.0, cost = sums.cost;
        add_priors(f, state, &sums);
        if (!factor(sums.curvature))
            break;
        forward(sums.curvature, sums.uphill);
        double gain = 0.0;
        for (int k = 0; k < NUMBERS; k++)
            gain += sums.uphill[k] * sums.uphill[k];
        back(sums.curvature, sums.uphill);
        if (gain < 0.01)
            break;
        for (; share > 0.1; share *= 0.4) {
            step_state(f, state, sums.uphill, share);
            fit_all(f, state);
            if (f->sums.cost < cost)
                break;
            *state = before;
            f->voice = voice_before;
            thrum_lock_set_steps(f->lock, &f->voice);
        }
        if (share <= 0.1) {
            fit_all(f, state);
            break;
        }
    }
    return f->sums.cost;
}

static void set_noise(struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        if (f->sums.dof[k] > 1.0)
            f->tone[k].noise = fmax(f->sums.left[k] / f->sums.dof[k], 1e-30);
}

static double nearest_line_hz(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double nearest = 1e9;
    for (int k = 0; k < f->voice.n_tones; k++)
        for (int i = 0; i < f->tone[k].n_near; i++)
            nearest = fmin(nearest, fabs(f->tone[k].near[i].offset_hz - state->tone_offset_hz[k]));
    return nearest;
}

/*
 * A line on the tone hides its frequency in the first look, and with the hum's mean taken out a pause looks like a
 * beep. So the joint fit is asked at several offsets and with every step of the pattern in the found one's place.
 */
static void untangle(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    struct thrum_lock_state found = *state;
    double best = 1e300, shift = 0.0;
    for (int step = 0; step < f->voice.n_steps && step < TANGLED_STEPS; step++) {
        for (int i = -2; i <= 1; i++) {
            struct thrum_lock_state trial = found;
            trial.timing.start_s += shift;
            for (int k = 0; k < f->voice.n_tones && i > -2; k++)
                trial.tone_offset_hz[k] = 1.5 * i * f->voice.tones_hz[k] / f->voice.tones_hz[0];
            trial.offset_hz = trial.tone_offset_hz[0];
            fit_all(f, &trial);
            double cost = f->sums.cost - log(10.0) * thrum_lock_prior(trial.offset_hz);
            if (cost < best) {
                best = cost;
                *state = trial;
            }
        }
        shift += f->voice.step[step].s;
    }
}

/*
 * Far hum lines were taken out with the tone's side bands in them. Now that the tone is known, measure them again
 * without it, and begin anew from what came in.
 */
static void renew_far_lines(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    fit_all(f, state);
    for (int k = 0; k < f->voice.n_tones; k++) {
        struct tone *tone = &f->tone[k];
        if (tone->n_far == 0)
            continue;
        for (size_t m = 0; m < f->count; m++) /* rest holds the residual: put the old far lines back */
            tone->clean[m] = cplx_add(tone->rest[m], cplx_sub(tone->raw[m], tone->z[m]));
        memcpy(tone->rest, tone->clean, f->count * sizeof *tone->rest);
        for (int pass = 0; pass < 2; pass++)
            for (int i = 0; i < tone->n_far; i++)
                thrum_humlines_take_out(tone->fit, tone->baseband, &tone->far[i], tone->clean, f->first,
                                        f->count, tone->clean);
        for (size_t m = 0; m < f->count; m++)
            tone->z[m] = cplx_sub(tone->raw[m], cplx_sub(tone->rest[m], tone->clean[m]));
    }
}

static bool has_near_lines(const struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        if (f->tone[k].n_near > 0)
            return true;
    return false;
}

/*
 * Power of beeps that the near hum lines alone may show where the tone was found: hum that changes faster than the fit
 * follows looks like beeps. A line that wobbles by 1 dB within a second leaves beeps 38 dB below itself (measured on
 * synthetic hum); LEAK is ten decibels more than that, and falls with the distance as the wobble's own spectrum does.
 */
static double hum_leak(const struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    const struct tone *tone = &f->tone[k];
    double leak = 0.0;
    for (int i = 0; i < tone->n_near; i++) {
        double r = (state->tone_offset_hz[k] - tone->near[i].offset_hz) / LEAK_HZ;
        leak += LEAK * tone->near[i].power / (1.0 + r * r * r * r);
    }
    return leak;
}

/*
 * The evidence once more, now that near lines are taken out with the tone known and not with part of it; what leaks
 * from them counts as noise.
 */
static void look_again(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES];
    struct thrum_lock_state ignored;
    use_clean(f);
    for (int k = 0; k < f->voice.n_tones; k++) {
        z[k] = f->tone[k].clean;
        noise[k] = fmax(mean_power(f->tone[k].clean, f->count) / f->tone[k].baseband->colour, 1e-30);
        double beep =
            fmin(thrum_beeps_longest_tone_s(&f->voice), THRUM_LOCK_COHERENT_S) * f->basebands[k]->step_hz;
        noise[k] += hum_leak(f, state, k) * beep;
    }
    thrum_lock_use(f->lock, z, f->first, f->count, noise);
    f->result.evidence = thrum_lock_search(f->lock, THRUM_TOUCHFIT_REACH_HZ, &ignored);
}

/* Noise in the mean power that comes from the fitted numbers, and what they take up of the noise on average. */
static void finish(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct thrum_touchfit_result *r = &f->result;
    struct sums prior = {0}, sums = f->sums;
    double moves[NUMBERS], effective = 0.0, extra = 0.0;
    add_priors(f, state, &sums);
    add_priors(f, state, &prior);
    memcpy(moves, sums.power_moves, sizeof moves);
    if (factor(sums.curvature)) {
        for (int i = 0; i < NUMBERS; i++) {
            double unit[NUMBERS] = {0};
            unit[i] = 1.0;
            forward(sums.curvature, unit);
            back(sums.curvature, unit);
            effective += 1.0 - prior.curvature[i][i] * unit[i];
            if (i == TIMINGS + (f->free_steps ? 1 : 0))
                r->step_sd_s = sqrt(0.5 * unit[i]);
        }
        forward(sums.curvature, moves);
        for (int i = 0; i < NUMBERS; i++)
            extra += 0.5 * moves[i] * moves[i];
    }
    double on = fmax(sums.on, 1e-9), per_second = f->tone[0].noise / f->basebands[0]->step_hz;
    r->power = (sums.power - 0.5 * effective * per_second) / on;
    r->variance = (sums.variance + extra) / (on * on);
    r->noise = f->tone[0].noise;
    r->noise_density = 0.5 * per_second;
    r->dof = sums.dof[0];
    r->state = *state;
    r->timing = thrum_lock_timing(f->lock, state);
    r->voice = f->voice;
    if (has_near_lines(f))
        look_again(f, state);
    use_clean(f);
    struct thrum_lock_energy gaps = thrum_lock_measure_gaps(f->lock, state);
    r->gap_power = gaps.power;
    r->gap_sd = r->noise * sqrt(gaps.beeps) / fmax(gaps.on, 1.0);
    r->gap_lg =
        gaps.beeps > 0 ? thrum_chance_ln_f(gaps.beeps, fmax(r->dof, 1.0), gaps.explained) / log(10.0) : 0.0;
}

/* With free steps there is no clock and no beep length beside them: what the first look found goes into the steps. */
static void free_the_steps(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    struct thrum_timing *timing = &state->timing;
    for (int i = 0; i < f->voice.n_steps; i++) {
        const struct thrum_voice_step *next = &f->voice.step[(i + 1) % f->voice.n_steps];
        struct thrum_voice_step *step = &f->voice.step[i];
        step->s *= timing->scale;
        if (step->tone == THRUM_SILENCE)
            step->s -= timing->stretch_s;
        else if (next->tone == THRUM_SILENCE)
            step->s += timing->stretch_s;
    }
    timing->start_s *= timing->scale;
    timing->scale = 1.0;
    timing->stretch_s = 0.0;
    thrum_lock_set_steps(f->lock, &f->voice);
}

const struct thrum_touchfit_result *thrum_touchfit_run(struct thrum_touchfit *fit,
                                                       const struct thrum_touchfit_job *job)
{
    struct thrum_touchfit *f = fit;
    struct thrum_lock_state state;
    memset(&f->result, 0, sizeof f->result);
    f->first = thrum_baseband_first(f->basebands[0]);
    f->count = thrum_baseband_count(f->basebands[0], job->n);
    f->count = f->count < f->count_max ? f->count : f->count_max;
    f->free_steps = job->free_steps && !f->voice.steady;
    f->n_timings = f->voice.steady ? 0 : f->free_steps ? 1 + f->voice.n_steps : 3;
    if ((double)f->count / f->basebands[0]->step_hz < 0.05)
        return &f->result;
    for (int k = 0; k < f->voice.n_tones; k++) {
        thrum_baseband_run(f->basebands[k], job->x, job->n, f->tone[k].raw);
        prepare_tone(f, &f->tone[k], job);
    }
    if (job->from) {
        state = *job->from;
        use_clean(f);
        noise_beside_beeps(f, &state);
    } else {
        look_everywhere(f, &state);
    }
    if (f->free_steps)
        free_the_steps(f, &state);
    bool on_line = nearest_line_hz(f, &state) < ON_TONE_HZ;
    if (!on_line && !job->from && f->result.evidence < HOPELESS) {
        fit_all(f, &state); /* nothing keys here: an upper limit is all that is wanted */
        set_noise(f);
        finish(f, &state);
        return &f->result;
    }
    if (on_line)
        untangle(f, &state);
    climb(f, &state);
    set_noise(f);
    renew_far_lines(f, &state);
    climb(f, &state);
    set_noise(f);
    fit_all(f, &state);
    finish(f, &state);
    return &f->result;
}
