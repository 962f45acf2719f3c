#include <math.h>
#include <string.h>

#include "signal/touchfit_own.h"

#define LEAST_PART 0.25 /* of a beep that must lie in the stretch for it to be measured */

double thrum_touchfit_middle_s(const struct thrum_touchfit *f)
{
    return ((double)f->first + 0.5 * (double)f->count) / f->basebands[0]->step_hz;
}

int thrum_touchfit_timings_at(const struct thrum_touchfit *f)
{
    return THRUM_NUMBER_OFFSETS + f->voice.n_tones;
}

/* How a beep's edge moves with the timing numbers, in analysis samples. `step`: steps of the pattern before it. */
static void edge_moves(const struct thrum_touchfit *f, const struct thrum_lock_state *state, double at_s,
                       int cycle, int step, bool stretches, double *moves)
{
    double scale = state->timing.scale, rate = f->rate_hz;
    moves[0] = -scale * rate;
    if (!f->free_steps) {
        moves[1] = (at_s - thrum_touchfit_middle_s(f)) / scale * rate;
        moves[2] = stretches ? rate : 0.0;
        return;
    }
    double begin = state->timing.start_s - thrum_touchfit_middle_s(f) / scale;
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
    struct thrum_beep all[THRUM_TOUCHFIT_LISTED];
    double from_s = ((double)in->first - 0.5) / b->step_hz,
           to_s = ((double)(in->first + in->count) - 0.5) / b->step_hz;
    double reach_s = (b->half + 1) / b->rate_hz;
    int n = thrum_beeps_list(&f->voice, &timing, from_s - reach_s, to_s + reach_s, THRUM_LONGEST_S, all,
                             THRUM_TOUCHFIT_LISTED),
        kept = 0;
    for (int i = 0; i < n && kept < THRUM_TONEFIT_BEEPS; i++) {
        double length = fmin(all[i].to_s, to_s) - fmax(all[i].from_s, from_s);
        if (all[i].tone != tone)
            continue;
        struct thrum_fit_beep *beep = &fit[kept];
        *beep = (struct thrum_fit_beep){.from = all[i].from_s * b->rate_hz, .to = all[i].to_s * b->rate_hz};
        if (length >= LEAST_PART * fmin(all[i].whole_s, THRUM_LONGEST_S))
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
        where[i] = i == 0   ? THRUM_NUMBER_OFFSETS + tone
                   : i == 1 ? THRUM_NUMBER_SLOPE
                            : thrum_touchfit_timings_at(f) + i - 2;
        by[i] = i == 1 ? ratio : 1.0;
    }
    for (int i = 0; i < slope->n; i++) {
        for (int j = 0; j < slope->n; j++)
            f->sums.curvature[where[i]][where[j]] += by[i] * by[j] * slope->curvature[i][j] / noise;
        f->sums.uphill[where[i]] += by[i] * slope->uphill[i] / noise;
        f->sums.power_moves[where[i]] += by[i] * slope->power_moves[i];
    }
}

struct thrum_fit_input thrum_touchfit_part_input(struct thrum_touchfit *f,
                                                 const struct thrum_lock_state *state, int k, size_t part,
                                                 struct thrum_beep *beeps, struct thrum_fit_beep *fit)
{
    struct thrum_touchfit_tone *tone = &f->tone[k];
    struct thrum_fit_input in = thrum_fit_part(tone->baseband, tone->z, f->first, f->count, part);
    in.n_beeps = part_beeps(f, state, k, &in, beeps, fit);
    in.beeps = fit;
    in.n_timings = f->n_timings;
    in.offset_hz = state->tone_offset_hz[k];
    in.slope_hz_per_s = state->slope_hz_per_s * f->voice.tones_hz[k] / f->voice.tones_hz[0];
    in.about_s = thrum_touchfit_middle_s(f);
    in.lines = tone->near;
    in.n_lines = tone->n_near;
    in.noise = tone->noise;
    return in;
}

/* One part of one tone; beeps and slopes only where they are wanted. */
static void fit_part(struct thrum_touchfit *f, const struct thrum_lock_state *state, int k, size_t part,
                     bool whole)
{
    struct thrum_touchfit_tone *tone = &f->tone[k];
    struct thrum_fit_beep fit[THRUM_TONEFIT_BEEPS];
    struct thrum_beep beeps[THRUM_TONEFIT_BEEPS];
    struct thrum_fit_input in = thrum_touchfit_part_input(f, state, k, part, beeps, fit);
    struct thrum_fit_output out;
    struct thrum_fit_slope slope = {0};
    size_t at = in.first - f->first;
    if (thrum_tonefit_run(tone->fit, &in, &out))
        return;
    memcpy(tone->clean + at, out.no_hum, in.count * sizeof *out.no_hum);
    memcpy(tone->rest + at, out.residual, in.count * sizeof *out.residual);
    double left = cplx_mean_power(out.residual, in.count) * (double)in.count;
    f->sums.cost += left / tone->noise;
    f->sums.left[k] += left;
    double taken = thrum_tonefit_taken(tone->fit, &in), share = (double)in.count / (double)f->count;
    double has = (double)in.count * tone->baseband->colour - share * tone->taken_far;
    f->sums.taken[k] += taken;
    f->sums.dof[k] += has - taken - in.n_beeps - 3.0;
    if (!whole)
        return;
    add_power(f, beeps, &in, &out);
    thrum_tonefit_slope(tone->fit, &in, &slope);
    add_slope(f, k, &slope);
}

static double prior_cost(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double slope = state->slope_hz_per_s / THRUM_SLOPE_SD,
           scale = (state->timing.scale - 1.0) / THRUM_SCALE_SD;
    double edge = state->timing.stretch_s / THRUM_EDGE_SD_S;
    return 0.5 * (slope * slope + (f->free_steps ? 0.0 : scale * scale + edge * edge));
}

/* Everything at one state; sums.cost is what the climb makes small. */
static void fit_parts(struct thrum_touchfit *f, const struct thrum_lock_state *state, bool whole)
{
    memset(&f->sums, 0, sizeof f->sums);
    f->result.n_beeps = 0;
    for (int k = 0; k < f->voice.n_tones; k++)
        for (size_t i = 0; i < thrum_fit_parts(f->basebands[0], f->count); i++)
            fit_part(f, state, k, i, whole);
    f->sums.cost += prior_cost(f, state);
}

void thrum_touchfit_fit_all(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    fit_parts(f, state, true);
}

void thrum_touchfit_fit_cost(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    fit_parts(f, state, false);
}

/*
 * Of the energy that the beeps of one tone hold in the last fit, the share that the near hum lines could not have explained
 * without them: 0.05 to 1.
 */
static double own_share(struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    struct thrum_touchfit_tone *tone = &f->tone[k];
    struct thrum_fit_beep fit[THRUM_TONEFIT_BEEPS];
    struct thrum_beep beeps[THRUM_TONEFIT_BEEPS];
    struct thrum_fit_output out;
    double held =
        (cplx_mean_power(tone->clean, f->count) - cplx_mean_power(tone->rest, f->count)) * (double)f->count;
    /* the cost of a fit, with what its priors ask for, is Re z^H residual */
    double own = -thrum_cplx_dot(tone->z, tone->rest, f->count).re;
    for (size_t i = 0; i < thrum_fit_parts(f->basebands[0], f->count); i++) {
        struct thrum_fit_input in = thrum_touchfit_part_input(f, state, k, i, beeps, fit);
        in.n_beeps = 0;
        if (thrum_tonefit_run(tone->fit, &in, &out))
            return 1.0;
        own += thrum_cplx_dot(in.z, out.residual, in.count).re;
    }
    return held > 0.0 ? fmin(fmax(own / held, 0.05), 1.0) : 1.0;
}

double thrum_touchfit_disputed(struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    const struct thrum_touchfit_tone *tone = &f->tone[k];
    double rest = cplx_mean_power(tone->rest, f->count) * (double)f->count / thrum_touchfit_dof(f, tone);
    return rest * (1.0 / own_share(f, state, k) - 1.0);
}

void thrum_touchfit_set_noise(struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        if (f->sums.dof[k] > 1.0)
            f->tone[k].noise = fmax(f->sums.left[k] / f->sums.dof[k], 1e-30);
}
