#include "signal/touchfit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "signal/chance.h"
#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define EDGES_PER_BEEP 5.0 /* pass band times shortest step: loses 2 % of a beep's energy at its edges */
#define PASS_LEAST_HZ  30.0
#define PASS_MOST_HZ   125.0
#define PASS_WIDE_HZ   175.0  /* where only the edges are asked for, and neighbours are out of the way */
#define ON_TONE_HZ     4.0    /* a line this near hides where the tone is: several starts are tried */
#define ON_LINE_HZ     1.6    /* a steady tone this near to a line goes with it */
#define SIDE_BANDS     1.0    /* a beep's side bands reach so far, in parts of its bandwidth */
#define LEAK           1.6e-4 /* -38 dB */
#define LEAK_OTHER     6e-3   /* steady sounds that are no mains: who knows how steady */
#define LEAK_HZ        1.5
#define LEAK_ERROR     6e-5 /* -42 dB: the error that hum leaves in a beep, on average, */
#define LEAK_WANDER    1e-2 /* ...the same for a line that wanders by 1 Hz (RMS) beside its drift */
#define LEAK_ERROR_HZ  2.7  /* falling from this distance on */
#define FAST_CLOCK     0.98 /* a step is at least so long, of what was learned */
#define CUT_AT_ENDS    4    /* beeps that a part may have more than its length tells */
#define LEAST_S        0.05 /* of sound */
#define LEAST_LEFT     0.1  /* of all independent values is left by hum lines */
#define LEAST_EVIDENCE 4.0  /* with less nothing is heard, and need not be looked at closely */
#define HOPELESS       (-2.0) /* evidence below this in the first look: noise reaches it in one touch of eight */

static bool has_room(struct thrum_touchfit_tone *tone, size_t count)
{
    tone->z = calloc(count, sizeof *tone->z);
    tone->clean = calloc(count, sizeof *tone->clean);
    tone->raw = calloc(count, sizeof *tone->raw);
    tone->rest = calloc(count, sizeof *tone->rest);
    return tone->z && tone->clean && tone->raw && tone->rest;
}

static void free_room(struct thrum_touchfit_tone *tone)
{
    free(tone->z);
    free(tone->clean);
    free(tone->raw);
    free(tone->rest);
}

/* So much of the voice at once that its beeps have room in one fit: as neighbouring steps differ, every other one may be the same tone. */
static double part_s(const struct thrum_voice *voice, const struct thrum_baseband *baseband)
{
    double shortest = fmin(thrum_beeps_shortest_s(voice), 0.25 * THRUM_LONGEST_S) * FAST_CLOCK;
    double heard_beside_s = 2.0 * (baseband->half + 1) / baseband->rate_hz;
    double room_s = (THRUM_TOUCHFIT_LISTED - CUT_AT_ENDS) * shortest - heard_beside_s;
    return fmin(baseband->part_s, room_s / THRUM_FIT_PART_MOST);
}

static enum thrum_status make_tone(struct thrum_touchfit *f, int k, double pass_hz)
{
    struct thrum_touchfit_tone *tone = &f->tone[k];
    enum thrum_status status =
        thrum_baseband_create(f->rate_hz, f->voice.tones_hz[k], pass_hz, &tone->baseband);
    if (status)
        return status;
    tone->baseband->part_s = part_s(&f->voice, tone->baseband);
    f->basebands[k] = tone->baseband;
    f->count_max = (size_t)(THRUM_TOUCHFIT_MAX_S * tone->baseband->step_hz) + 2;
    if (!has_room(tone, f->count_max) || !has_room(&f->other[k], f->count_max))
        return THRUM_ERR_MEM;
    status = thrum_tonefit_create(tone->baseband, thrum_fit_part_max(tone->baseband), &tone->fit);
    f->other[k].baseband = tone->baseband;
    f->other[k].fit = tone->fit;
    return status;
}

static enum thrum_status make_fit(double rate_hz, const struct thrum_voice *voice, double least_pass_hz,
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
    pass = THRUM_TOUCHFIT_REACH_HZ + fmax(fmin(pass, PASS_MOST_HZ), least_pass_hz);
    enum thrum_status status = THRUM_OK;
    for (int k = 0; k < voice->n_tones && !status; k++)
        status = make_tone(f, k, pass);
    f->turned = calloc(f->count_max, sizeof *f->turned);
    if (!status && !f->turned)
        status = THRUM_ERR_MEM;
    if (!status)
        status = thrum_lock_create(voice, f->basebands[0]->step_hz, f->count_max, &f->lock);
    if (status) {
        thrum_touchfit_destroy(f);
        return status;
    }
    *fit = f;
    return THRUM_OK;
}

enum thrum_status thrum_touchfit_create(double rate_hz, const struct thrum_voice *voice,
                                        struct thrum_touchfit **fit)
{
    return make_fit(rate_hz, voice, PASS_LEAST_HZ, fit);
}

enum thrum_status thrum_touchfit_create_wide(double rate_hz, const struct thrum_voice *voice,
                                             struct thrum_touchfit **fit)
{
    return make_fit(rate_hz, voice, PASS_WIDE_HZ, fit);
}

void thrum_touchfit_destroy(struct thrum_touchfit *fit)
{
    if (!fit)
        return;
    thrum_lock_destroy(fit->lock);
    for (int k = 0; k < THRUM_VOICE_TONES; k++) {
        struct thrum_touchfit_tone *tone = &fit->tone[k];
        thrum_tonefit_destroy(tone->fit);
        thrum_baseband_destroy(tone->baseband);
        free_room(tone);
        free_room(&fit->other[k]);
    }
    free(fit->turned);
    free(fit);
}

void thrum_touchfit_move(struct thrum_touchfit *fit, double first_tone_hz)
{
    struct thrum_voice moved = fit->voice;
    double factor = first_tone_hz / fit->voice.tones_hz[0];
    for (int k = 0; k < moved.n_tones; k++)
        moved.tones_hz[k] *= factor;
    if (thrum_voice_check(&moved, NULL))
        return;
    fit->voice = moved;
    for (int k = 0; k < moved.n_tones; k++)
        thrum_baseband_move(fit->basebands[k], moved.tones_hz[k]);
    thrum_lock_set_voice(fit->lock, &moved);
}

double thrum_touchfit_dof(const struct thrum_touchfit *f, const struct thrum_touchfit_tone *tone)
{
    double all = (double)f->count * tone->baseband->colour;
    return fmax(all - tone->taken_far - tone->taken_near, LEAST_LEFT * all);
}

/* Of everything that the lines left, as if no tone were there. */
static double noise_left(const struct thrum_touchfit *f, const struct thrum_touchfit_tone *tone)
{
    double left = cplx_mean_power(tone->clean, f->count) * (double)f->count;
    return fmax(left / thrum_touchfit_dof(f, tone), 1e-30);
}

/* Far lines go out of z for good; near ones only out of `clean`, for the first look, and wait for the joint fit. */
void thrum_touchfit_prepare_tone(struct thrum_touchfit *f, struct thrum_touchfit_tone *tone,
                                 const struct thrum_touchfit_job *job)
{
    thrum_baseband_run(tone->baseband, job->x, job->n, tone->raw);
    struct thrum_hum_line lines[THRUM_HUMLINES_MAX];
    int n = thrum_humlines_list(tone->baseband, job->hum, job->n_hum, thrum_touchfit_middle_s(f), lines);
    tone->n_near = tone->n_far = 0;
    memcpy(tone->z, tone->raw, f->count * sizeof *tone->z);
    for (int i = 0; i < n; i++) {
        if (fabs(lines[i].offset_hz) <= THRUM_NEAR_HZ)
            continue;
        lines[i].power = thrum_humlines_take_out(tone->fit, tone->baseband, &lines[i], tone->z, f->first,
                                                 f->count, tone->z);
        tone->far[tone->n_far++] = lines[i];
    }
    memcpy(tone->clean, tone->z, f->count * sizeof *tone->z);
    for (int i = 0; i < n; i++) {
        if (fabs(lines[i].offset_hz) > THRUM_NEAR_HZ || tone->n_near == THRUM_TONEFIT_LINES - 1)
            continue;
        lines[i].power = thrum_humlines_take_out(tone->fit, tone->baseband, &lines[i], tone->clean, f->first,
                                                 f->count, tone->clean);
        tone->near[tone->n_near++] = lines[i];
        f->result.hum_on_tone |= fabs(lines[i].offset_hz) < 3.0;
    }
    tone->n_mains = tone->n_near;
    tone->taken_far = thrum_humlines_taken(tone->baseband, tone->far, tone->n_far, f->count);
    tone->taken_near = thrum_humlines_taken(tone->baseband, tone->near, tone->n_near, f->count);
    tone->noise = noise_left(f, tone);
}

/* Independent values of all tones. */
static double all_dof(const struct thrum_touchfit *f)
{
    double dof = 0.0;
    for (int k = 0; k < f->voice.n_tones; k++)
        dof += thrum_touchfit_dof(f, &f->tone[k]);
    return dof;
}

void thrum_touchfit_use_clean(struct thrum_touchfit *f)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES];
    for (int k = 0; k < f->voice.n_tones; k++) {
        z[k] = f->tone[k].clean;
        noise[k] = f->tone[k].noise;
    }
    thrum_lock_use(f->lock, z, f->first, f->count, noise, all_dof(f));
}

void thrum_touchfit_noise_beside_beeps(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct thrum_lock_energy all = thrum_lock_measure(f->lock, state);
    double dof = all_dof(f), left = 0.0;
    for (int k = 0; k < f->voice.n_tones; k++)
        left += cplx_mean_power(f->tone[k].clean, f->count) * (double)f->count / f->tone[k].noise;
    double share = (left - all.explained) / fmax(dof - all.beeps, 1.0);
    for (int k = 0; k < f->voice.n_tones; k++)
        f->tone[k].noise *= fmax(share, 1e-9);
    thrum_touchfit_use_clean(f);
}

static void look_everywhere(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    thrum_touchfit_use_clean(f);
    f->result.evidence = thrum_lock_search(f->lock, THRUM_TOUCHFIT_REACH_HZ, state);
    thrum_touchfit_noise_beside_beeps(f, state);
    thrum_lock_refine(f->lock, state);
    thrum_touchfit_noise_beside_beeps(f, state);
}

/* Is a hum line so near to the tone as learned, or nearer than reach_hz to it as found? */
static bool has_line_within(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                            double reach_hz)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        for (int i = 0; i < f->tone[k].n_near; i++)
            if (fabs(f->tone[k].near[i].offset_hz) < ON_TONE_HZ ||
                fabs(f->tone[k].near[i].offset_hz - state->tone_offset_hz[k]) < reach_hz)
                return true;
    return false;
}

/* Does a hum line hide where the tone is? One on the tone leaves the first look only the beeps' side bands. */
static bool is_hidden(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double longest = fmin(thrum_beeps_longest_tone_s(&f->voice), THRUM_LOCK_COHERENT_S);
    return has_line_within(f, state, ON_TONE_HZ + SIDE_BANDS / longest);
}

/* A steady sound near the tone is no tone of this sender: what is found there without it. */
static void look_beside_steady(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    for (int pass = 0; pass < 8 && f->result.evidence > HOPELESS; pass++) {
        struct thrum_lock_energy energy = thrum_lock_measure(f->lock, state);
        bool added = false;
        for (int k = 0; k < f->voice.n_tones; k++)
            added |=
                thrum_touchfit_add_steady(f, k, state->tone_offset_hz[k], energy.explained - energy.beeps);
        if (!added)
            return;
        for (int k = 0; k < f->voice.n_tones; k++)
            f->tone[k].noise = noise_left(f, &f->tone[k]);
        look_everywhere(f, state);
    }
}

/*
 * Power of beeps that the near hum lines alone show where the tone was found: hum that changes faster than the fit
 * follows looks like beeps. A line that wobbles by 1 dB within a second leaves beeps LEAK below itself (measured on
 * synthetic hum), falling with the distance as the wobble's own spectrum does.
 */
double thrum_touchfit_hum_leak(const struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    const struct thrum_touchfit_tone *tone = &f->tone[k];
    double leak = 0.0;
    for (int i = 0; i < tone->n_near; i++) {
        double r = (state->tone_offset_hz[k] - tone->near[i].offset_hz) / LEAK_HZ;
        leak += (i < tone->n_mains ? LEAK : LEAK_OTHER) * tone->near[i].power / (1.0 + r * r * r * r);
    }
    return leak;
}

/*
 * The evidence once more, now that near lines are taken out with the tone known and not with part of it: what they might
 * have explained as well is no evidence, and what leaks from them counts as noise.
 */
static void look_again(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES];
    struct thrum_lock_state ignored;
    bool hidden = is_hidden(f, state);
    for (int k = 0; k < f->voice.n_tones; k++) {
        f->tone[k].taken_near = f->sums.taken[k];
        z[k] = f->tone[k].clean;
        noise[k] = noise_left(f, &f->tone[k]) + (hidden ? thrum_touchfit_disputed(f, state, k) : 0.0);
        double beep =
            fmin(thrum_beeps_longest_tone_s(&f->voice), THRUM_LOCK_COHERENT_S) * f->basebands[k]->step_hz;
        noise[k] += THRUM_LEAK_MARGIN * thrum_touchfit_hum_leak(f, state, k) * beep;
    }
    thrum_lock_use(f->lock, z, f->first, f->count, noise, all_dof(f));
    f->result.evidence = thrum_lock_search(f->lock, THRUM_TOUCHFIT_REACH_HZ, &ignored);
}

/*
 * What leaks in as error when the tone is known to be there: less than what may look like a tone, as the joint fit has
 * both. Found on synthetic hum that wobbles by 1 dB, beeps of 0.1 to 0.5 s, 0 to 13 Hz from the line; what wander adds, on hum of
 * 45 to 66 Hz whose frequency is a first-order process (correlation time 3 s, 0, 0.02 and 0.04 Hz), 0 to 3 Hz from the line.
 */
static double leak_error(const struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    const struct thrum_touchfit_tone *tone = &f->tone[k];
    double leak = 0.0;
    for (int i = 0; i < tone->n_near; i++) {
        double r = (state->tone_offset_hz[k] - tone->near[i].offset_hz) / LEAK_ERROR_HZ, cube = r * r * r;
        double moves = tone->near[i].wander_hz;
        double share = i < tone->n_mains ? LEAK_ERROR + LEAK_WANDER * moves * moves : LEAK_OTHER;
        leak += share * tone->near[i].power / (1.0 + cube * cube);
    }
    return leak;
}

/* What leaks from near lines makes every beep less certain. */
static void add_leak(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct thrum_touchfit_result *r = &f->result;
    double square = 0.0, on = 0.0;
    for (int i = 0; i < r->n_beeps; i++) {
        double s = r->beep[i].to_s - r->beep[i].from_s;
        r->beep_variance[i] += thrum_touchfit_hum_leak(f, state, r->beep[i].tone);
        square += s * s * 2.0 * fmax(r->power, 0.0) * leak_error(f, state, r->beep[i].tone);
        on += s;
    }
    if (on > 0.0)
        r->variance += square / (on * on);
}

bool thrum_touchfit_has_close_tone(const struct thrum_touchfit *f, int k)
{
    for (int i = 0; i < f->voice.n_tones; i++)
        if (i != k && fabs(f->voice.tones_hz[i] - f->voice.tones_hz[k]) < f->tone[k].baseband->stop_hz + 10.0)
            return true;
    return false;
}

/* Power of all sound near the tones while they sound, less that while they do not: what keys, whatever it is. */
static void measure_contrast(struct thrum_touchfit *f)
{
    struct thrum_touchfit_result *r = &f->result;
    double power[2] = {0.0, 0.0}, n[2] = {0.0, 0.0}, rate = f->basebands[0]->step_hz;
    r->contrast_sd = (double)INFINITY;
    for (int k = 0; k < f->voice.n_tones; k++) {
        int at = 0;
        for (size_t m = 0; m < f->count && !thrum_touchfit_has_close_tone(f, k); m++) {
            double t = (double)(f->first + m) / rate;
            while (at < r->n_beeps && (r->beep[at].tone != k || r->beep[at].to_s < t))
                at++;
            int on = at < r->n_beeps && r->beep[at].from_s <= t;
            power[on] += cplx_power(f->tone[k].clean[m]);
            n[on] += 1.0;
        }
    }
    if (n[0] < 8.0 || n[1] < 8.0)
        return;
    double quiet = power[0] / n[0];
    r->contrast = power[1] / n[1] - quiet;
    r->contrast_sd = quiet * sqrt(1.0 / n[0] + 1.0 / n[1]) / sqrt(f->basebands[0]->colour);
}

/* A steady tone near a harmonic is taken out with it. */
static double hum_where_steady(const struct thrum_touchfit *f)
{
    const struct thrum_touchfit_tone *tone = &f->tone[0];
    double most = 0.0;
    for (int i = 0; i < tone->n_mains && f->voice.steady; i++)
        if (fabs(tone->near[i].offset_hz) < ON_LINE_HZ)
            most = fmax(most, tone->near[i].power);
    return most;
}

/* Put the result together. */
static void finish(struct thrum_touchfit *f, const struct thrum_touchfit_job *job,
                   const struct thrum_lock_state *state)
{
    struct thrum_touchfit_result *r = &f->result;
    const struct thrum_touchfit_sums *sums = &f->sums;
    struct thrum_touchfit_toll toll = thrum_touchfit_toll(f, state);
    double on = fmax(sums->on, 1e-9), per_second = f->tone[0].noise / f->basebands[0]->step_hz;
    r->step_sd_s = toll.step_sd_s;
    r->power = (sums->power - 0.5 * toll.effective * per_second) / on;
    r->variance = (sums->variance + toll.extra) / (on * on);
    r->variance *= thrum_touchfit_noise_at_tone(f, state);
    thrum_touchfit_measure_beside(f, state);
    add_leak(f, state);
    r->hum_power = hum_where_steady(f);
    r->noise = f->tone[0].noise;
    r->noise_density = 0.5 * per_second;
    r->dof = sums->dof[0];
    r->state = *state;
    r->timing = thrum_lock_timing(f->lock, state);
    r->voice = f->voice;
    thrum_touchfit_list_windows(f, state);
    r->rival = thrum_touchfit_rival(f, state);
    if (thrum_touchfit_has_near_lines(f))
        look_again(f, state);
    measure_contrast(f);
    r->upside_down = thrum_touchfit_upside_down(f, state);
    r->whole = r->evidence > LEAST_EVIDENCE ? thrum_touchfit_whole(f, state) : 0.0;
    r->crowd = thrum_touchfit_crowd(f, job, state->offset_hz);
    thrum_touchfit_use_clean(f);
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
    thrum_lock_set_voice(f->lock, &f->voice);
}

bool thrum_touchfit_take_stretch(struct thrum_touchfit *f, const struct thrum_touchfit_job *job)
{
    f->first = thrum_baseband_first(f->basebands[0]);
    f->count = thrum_baseband_count(f->basebands[0], job->n);
    f->count = f->count < f->count_max ? f->count : f->count_max;
    return (double)f->count / f->basebands[0]->step_hz >= LEAST_S;
}

const struct thrum_touchfit_result *thrum_touchfit_run(struct thrum_touchfit *fit,
                                                       const struct thrum_touchfit_job *job)
{
    struct thrum_touchfit *f = fit;
    struct thrum_lock_state state;
    memset(&f->result, 0, sizeof f->result);
    bool enough = thrum_touchfit_take_stretch(f, job);
    f->free_steps = job->free_steps && !f->voice.steady;
    f->n_timings = f->voice.steady ? 0 : f->free_steps ? 1 + f->voice.n_steps : 3;
    if (!enough)
        return &f->result;
    for (int k = 0; k < f->voice.n_tones; k++)
        thrum_touchfit_prepare_tone(f, &f->tone[k], job);
    if (job->from) {
        state = *job->from;
        thrum_touchfit_use_clean(f);
        thrum_touchfit_noise_beside_beeps(f, &state);
    } else {
        look_everywhere(f, &state);
        if (!f->voice.steady && !has_line_within(f, &state, ON_TONE_HZ))
            look_beside_steady(f, &state);
    }
    if (f->free_steps)
        free_the_steps(f, &state);
    bool hidden = is_hidden(f, &state);
    if (!hidden && !job->from && f->result.evidence < HOPELESS) {
        thrum_touchfit_fit_all(f, &state); /* nothing keys here: an upper limit is all that is wanted */
        thrum_touchfit_set_noise(f);
        finish(f, job, &state);
        return &f->result;
    }
    if (hidden)
        thrum_touchfit_untangle(f, &state);
    thrum_touchfit_climb(f, &state);
    thrum_touchfit_set_noise(f);
    thrum_touchfit_renew_far_lines(f, &state);
    thrum_touchfit_climb(f, &state);
    thrum_touchfit_set_noise(f);
    if (hidden && thrum_touchfit_untangle_again(f, &state)) {
        thrum_touchfit_climb(f, &state);
        thrum_touchfit_set_noise(f);
    }
    thrum_touchfit_fit_all(f, &state);
    finish(f, job, &state);
    return &f->result;
}

const struct thrum_touchfit_result *thrum_touchfit_last(const struct thrum_touchfit *fit)
{
    return &fit->result;
}

struct thrum_touchfit_near thrum_touchfit_near(const struct thrum_touchfit *fit, int tone)
{
    return (struct thrum_touchfit_near){.z = fit->tone[tone].clean,
                                        .first = fit->first,
                                        .count = fit->result.n_beeps > 0 ? fit->count : 0,
                                        .step_hz = fit->basebands[tone]->step_hz};
}
