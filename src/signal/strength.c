#include "signal/strength.h"

#include <stdlib.h>
#include <string.h>

#include "signal/baseband.h"
#include "signal/chance.h"
#include "signal/lock.h"
#include "signal/tonefit.h"
#include "thrum/units.h"

#define REACH_HZ        12.0  /* how far the tone is looked for from where it was learned */
#define EDGES_PER_BEEP  5.0   /* pass band times shortest step: loses 2 % of a beep's energy at its edges */
#define PASS_LEAST_HZ   30.0
#define PASS_MOST_HZ    125.0
#define NEAR_HZ         15.0  /* hum lines nearer to the tone than this are estimated together with it */
#define CHUNK_S         4.0   /* one fit covers at most this much */
#define LINE_WIDTH_HZ   0.5   /* slow change of a hum line */
#define LONGEST_S       0.6   /* longer tones are measured in parts */
#define HEARD_LG        (-3.3)/* lg of the false-alarm rate asked for; see docs/measuring.md for what it gives */
#define MAX_LINES       16

/* One tone of the voice in one stretch. */
struct tone {
    struct thrum_baseband *baseband;
    struct thrum_tonefit *fit;
    struct cplx *z;     /* [count_max] as received, far hum lines taken out */
    struct cplx *clean; /* [count_max] all hum taken out */
    struct cplx *rest;  /* [count_max] hum and tone taken out */
    int n_near;
    struct thrum_hum_line near[THRUM_TONEFIT_LINES];
    double noise;       /* variance of z by noise */
};

struct thrum_strength_meter {
    struct thrum_voice voice;
    double rate_hz;
    size_t count_max, first, count;
    struct tone tone[THRUM_VOICE_TONES];
    struct thrum_baseband *basebands[THRUM_VOICE_TONES];
    struct thrum_lock *lock;
    struct thrum_strength_detail detail;
    struct cplx amplitude[THRUM_STRENGTH_BEEPS];
    double sum_power, sum_variance, sum_on; /* of the joint fits */
};

static enum thrum_status make_tone(struct thrum_strength_meter *m, int k, double pass_hz)
{
    struct tone *tone = &m->tone[k];
    enum thrum_status status = thrum_baseband_create(m->rate_hz, m->voice.tones_hz[k], pass_hz, &tone->baseband);
    if (status)
        return status;
    m->basebands[k] = tone->baseband;
    m->count_max = (size_t)(THRUM_STRENGTH_MAX_S * tone->baseband->step_hz) + 2;
    tone->z = calloc(m->count_max, sizeof *tone->z);
    tone->clean = calloc(m->count_max, sizeof *tone->clean);
    tone->rest = calloc(m->count_max, sizeof *tone->rest);
    if (!tone->z || !tone->clean || !tone->rest)
        return THRUM_ERR_MEM;
    return thrum_tonefit_create(tone->baseband, (size_t)(1.5 * CHUNK_S * tone->baseband->step_hz) + 8, &tone->fit);
}

enum thrum_status thrum_strength_meter_create(double rate_hz, const struct thrum_voice *voice,
                                              struct thrum_strength_meter **meter)
{
    *meter = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz < 16000.0) || thrum_voice_check(voice, NULL))
        return THRUM_ERR_ARG;
    struct thrum_strength_meter *m = calloc(1, sizeof *m);
    if (!m)
        return THRUM_ERR_MEM;
    m->voice = *voice;
    m->rate_hz = rate_hz;
    double pass = EDGES_PER_BEEP / fmin(thrum_beeps_shortest_s(voice), 1.0);
    pass = REACH_HZ + fmin(fmax(pass, PASS_LEAST_HZ), PASS_MOST_HZ);
    enum thrum_status status = THRUM_OK;
    for (int k = 0; k < voice->n_tones && !status; k++)
        status = make_tone(m, k, pass);
    if (!status)
        status = thrum_lock_create(voice, m->basebands, m->count_max, &m->lock);
    if (status) {
        thrum_strength_meter_destroy(m);
        return status;
    }
    *meter = m;
    return THRUM_OK;
}

void thrum_strength_meter_destroy(struct thrum_strength_meter *meter)
{
    if (!meter)
        return;
    thrum_lock_destroy(meter->lock);
    for (int k = 0; k < THRUM_VOICE_TONES; k++) {
        struct tone *tone = &meter->tone[k];
        thrum_tonefit_destroy(tone->fit);
        thrum_baseband_destroy(tone->baseband);
        free(tone->z);
        free(tone->clean);
        free(tone->rest);
    }
    free(meter);
}

const struct thrum_strength_detail *thrum_strength_meter_detail(const struct thrum_strength_meter *meter)
{
    return &meter->detail;
}

/* Parts of about CHUNK_S that cover the stretch: part i of n covers [i count / n, (i + 1) count / n). */
static size_t chunks(const struct thrum_strength_meter *m)
{
    double seconds = (double)m->count / m->tone[0].baseband->step_hz;
    return seconds <= 1.4 * CHUNK_S ? 1 : (size_t)ceil(seconds / CHUNK_S);
}

static struct thrum_fit_input chunk_input(const struct thrum_strength_meter *m, const struct cplx *z, size_t i)
{
    size_t n = chunks(m), from = i * m->count / n, to = (i + 1) * m->count / n;
    return (struct thrum_fit_input){.z = z + from, .first = m->first + from, .count = to - from, .noise = 1e-30};
}

/* Fit one line alone, chunk by chunk, and take it out of `from` into `to`. Returns its mean power. */
static double take_out(const struct thrum_strength_meter *m, struct tone *tone, const struct thrum_hum_line *line,
                       double noise, const struct cplx *from, struct cplx *to)
{
    double power = 0.0;
    for (size_t i = 0; i < chunks(m); i++) {
        struct thrum_fit_input in = chunk_input(m, from, i);
        struct thrum_fit_output out;
        in.lines = line;
        in.n_lines = 1;
        in.noise = noise;
        size_t at = in.first - m->first;
        if (thrum_tonefit_run(tone->fit, &in, &out)) {
            memmove(to + at, in.z, in.count * sizeof *to);
            continue;
        }
        for (size_t s = 0; s < in.count; s++)
            power += cplx_power(cplx_sub(in.z[s], out.no_hum[s]));
        memmove(to + at, out.no_hum, in.count * sizeof *to);
    }
    return power / (double)m->count;
}

static int hum_lines(const struct thrum_strength_meter *m, const struct tone *tone, const struct thrum_hum_source *hum,
                     int n_hum, struct thrum_hum_line *lines)
{
    double middle_s = ((double)m->first + 0.5 * (double)m->count) / tone->baseband->step_hz;
    int n = 0;
    for (int i = 0; i < n_hum; i++) {
        double low = tone->baseband->centre_hz - tone->baseband->stop_hz;
        double high = tone->baseband->centre_hz + tone->baseband->stop_hz;
        for (int h = (int)ceil(low / hum[i].hz); h * hum[i].hz <= high && n < MAX_LINES; h++) {
            double offset = h * (hum[i].hz - hum[i].slope_hz_per_s * middle_s) - tone->baseband->centre_hz;
            lines[n++] = (struct thrum_hum_line){offset, h * hum[i].slope_hz_per_s, 1.0, LINE_WIDTH_HZ};
        }
    }
    return n;
}

static double mean_power(const struct cplx *z, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += cplx_power(z[i]);
    return sum / (double)n;
}

/* Far lines go out of z for good; near ones only out of `clean`, for the first look, and wait for the joint fit. */
static void prepare_tone(struct thrum_strength_meter *m, struct tone *tone, const struct thrum_hum_source *hum,
                         int n_hum)
{
    struct thrum_hum_line lines[MAX_LINES];
    int n = hum_lines(m, tone, hum, n_hum, lines);
    tone->n_near = 0;
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < n; i++)
            if (fabs(lines[i].offset_hz) > NEAR_HZ)
                take_out(m, tone, &lines[i], 1e-30, tone->z, tone->z);
    memcpy(tone->clean, tone->z, m->count * sizeof *tone->z);
    for (int i = 0; i < n; i++) {
        if (fabs(lines[i].offset_hz) > NEAR_HZ || tone->n_near == THRUM_TONEFIT_LINES - 1)
            continue;
        lines[i].power = take_out(m, tone, &lines[i], 1e-30, tone->clean, tone->clean);
        tone->near[tone->n_near++] = lines[i];
    }
    tone->noise = fmax(mean_power(tone->clean, m->count) / tone->baseband->colour, 1e-30);
}

static void use_clean(struct thrum_strength_meter *m)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES];
    for (int k = 0; k < m->voice.n_tones; k++) {
        z[k] = m->tone[k].clean;
        noise[k] = m->tone[k].noise;
    }
    thrum_lock_use(m->lock, z, m->first, m->count, noise);
}

/* Noise from what the beeps leave over, tone by tone. */
static void noise_beside_beeps(struct thrum_strength_meter *m, const struct thrum_lock_state *state)
{
    struct thrum_lock_energy all = thrum_lock_measure(m->lock, state);
    double colour = m->tone[0].baseband->colour, dof = (double)m->count * colour;
    double left = 0.0, share;
    for (int k = 0; k < m->voice.n_tones; k++)
        left += mean_power(m->tone[k].clean, m->count) * (double)m->count / m->tone[k].noise;
    share = (left - all.explained) / (dof * m->voice.n_tones - all.beeps);
    for (int k = 0; k < m->voice.n_tones; k++)
        m->tone[k].noise *= fmax(share, 1e-9);
    use_clean(m);
}

static void lock_on(struct thrum_strength_meter *m, struct thrum_lock_state *state)
{
    use_clean(m);
    thrum_lock_search(m->lock, REACH_HZ, state);
    noise_beside_beeps(m, state);
    thrum_lock_refine(m->lock, state);
    noise_beside_beeps(m, state);
}

/* The beeps of one tone in one chunk, for the fit. */
static int chunk_beeps(struct thrum_strength_meter *m, const struct thrum_lock_state *state, int tone,
                       const struct thrum_fit_input *in, struct thrum_beep *beeps, struct thrum_fit_beep *fit)
{
    const struct thrum_baseband *b = m->tone[tone].baseband;
    struct thrum_timing timing = thrum_lock_timing(m->lock, state);
    struct thrum_beep all[THRUM_TONEFIT_BEEPS];
    double from_s = ((double)in->first - 0.5) / b->step_hz, to_s = ((double)(in->first + in->count) - 0.5) / b->step_hz;
    double middle_s = ((double)m->first + 0.5 * (double)m->count) / b->step_hz;
    double slope = state->slope_hz_per_s * m->voice.tones_hz[tone] / m->voice.tones_hz[0];
    int n = thrum_beeps_list(&m->voice, &timing, from_s, to_s, LONGEST_S, all, THRUM_TONEFIT_BEEPS), kept = 0;
    for (int i = 0; i < n; i++) {
        if (all[i].tone != tone || all[i].to_s - all[i].from_s < 0.25 * fmin(all[i].whole_s, LONGEST_S))
            continue;
        /* inside the stretch the gate may reach beyond the samples: the filter hears a little of it */
        fit[kept] = (struct thrum_fit_beep){all[i].from_s * b->rate_hz, all[i].to_s * b->rate_hz,
                                            state->tone_offset_hz[tone] - slope * middle_s, slope};
        if (all[i].from_s <= from_s)
            fit[kept].from -= b->half;
        if (all[i].to_s >= to_s)
            fit[kept].to += b->half;
        beeps[kept++] = all[i];
    }
    return kept;
}

static void keep_beeps(struct thrum_strength_meter *m, const struct thrum_beep *beeps, int n,
                       const struct thrum_fit_output *out, double noise)
{
    struct thrum_strength_detail *d = &m->detail;
    double var = 0.0;
    for (int i = 0; i < n; i++) {
        double wi = beeps[i].to_s - beeps[i].from_s;
        double vi = noise * out->covariance[i * out->stride + i].re;
        if (d->n_beeps < THRUM_STRENGTH_BEEPS) {
            d->beep[d->n_beeps] = beeps[i];
            d->power[d->n_beeps] = cplx_power(out->amplitude[i]) - vi;
            d->variance[d->n_beeps++] = vi;
        }
        m->sum_power += wi * (cplx_power(out->amplitude[i]) - vi);
        m->sum_on += wi;
        for (int j = 0; j < n; j++) {
            /* variance of sum w |A + e|^2: 2 Re(A_i* C_ij A_j) + |C_ij|^2, the A themselves being noisy */
            struct cplx c = cplx_scale(out->covariance[i * out->stride + j], noise);
            double wj = beeps[j].to_s - beeps[j].from_s;
            double cross = cplx_mul_conj(out->amplitude[i], cplx_mul(c, out->amplitude[j])).re;
            var += wi * wj * (2.0 * cross - cplx_power(c));
        }
    }
    m->sum_variance += fmax(var, 0.0);
}

/* All chunks of one tone with its near lines; the noise is that of the residual, found in two rounds. */
static void fit_tone(struct thrum_strength_meter *m, const struct thrum_lock_state *state, int k, bool keep)
{
    struct tone *tone = &m->tone[k];
    double left = 0.0, dof = 0.0;
    for (size_t i = 0; i < chunks(m); i++) {
        struct thrum_fit_input in = chunk_input(m, tone->z, i);
        struct thrum_fit_beep fit[THRUM_TONEFIT_BEEPS];
        struct thrum_beep beeps[THRUM_TONEFIT_BEEPS];
        struct thrum_fit_output out;
        size_t at = in.first - m->first;
        in.n_beeps = chunk_beeps(m, state, k, &in, beeps, fit);
        in.beeps = fit;
        in.lines = tone->near;
        in.n_lines = tone->n_near;
        in.noise = tone->noise;
        if (thrum_tonefit_run(tone->fit, &in, &out))
            continue;
        memcpy(tone->clean + at, out.no_hum, in.count * sizeof *out.no_hum);
        memcpy(tone->rest + at, out.residual, in.count * sizeof *out.residual);
        left += mean_power(out.residual, in.count) * (double)in.count;
        dof += (double)in.count * tone->baseband->colour - in.n_beeps - in.n_lines * 4.0;
        if (keep)
            keep_beeps(m, beeps, in.n_beeps, &out, tone->noise);
    }
    if (!keep && dof > 1.0)
        tone->noise = fmax(left / dof, 1e-30);
}

/* lg of the chance that noise alone keys this well, the search reckoned in. */
static double score_of(const struct thrum_strength_meter *m, const struct thrum_lock_state *state, double explained,
                       int beeps)
{
    double dof = (double)m->count * m->tone[0].baseband->colour * m->voice.n_tones - beeps;
    if (beeps < 1 || dof < 2.0)
        return 0.0;
    double ln = thrum_chance_ln_f(beeps, dof, explained) / log(10.0);
    return fmin(ln + log10(thrum_lock_trials(m->lock, REACH_HZ)) - thrum_lock_prior(state->offset_hz), 0.0);
}

/* Wobble seen within the touch: what the beeps scatter beyond their noise, as variance of their mean power. */
static double wobble_variance(const struct thrum_strength_detail *d, double mean)
{
    int n = d->n_beeps;
    double scatter = 0.0, noise = 0.0, lagged = 0.0, before = 0.0;
    if (n < 4)
        return 0.0;
    for (int i = 0; i < n; i++) {
        double e = d->power[i] - mean;
        scatter += e * e;
        noise += 2.0 * fmax(mean, 0.0) * d->variance[i] + d->variance[i] * d->variance[i];
        if (i > 0)
            lagged += e * before;
        before = e;
    }
    scatter /= n - 1;
    noise /= n;
    if (scatter < noise * (1.0 + 2.5 * sqrt(2.0 / (n - 1))))
        return 0.0;
    double rho = fmin(fmax(lagged / (n - 1) / scatter, 0.0), 0.8);
    return (scatter - noise) / n * (1.0 + rho) / (1.0 - rho);
}

/* Does the rest stay significant when its strongest beep is taken away? One click or one word does not make a tone. */
static bool not_one_beep(const struct thrum_strength_detail *d)
{
    double sum = 0.0, most = 0.0;
    if (d->n_beeps < 2)
        return true;
    for (int i = 0; i < d->n_beeps; i++) {
        double t = (d->power[i] + d->variance[i]) / d->variance[i];
        sum += t;
        most = fmax(most, t);
    }
    return thrum_chance_ln_chi2(d->n_beeps - 1, 2.0 * (sum - most)) < log(0.03);
}

static void fill_strength(struct thrum_strength_meter *m, const struct thrum_lock_state *state,
                          struct thrum_strength *strength)
{
    struct thrum_strength_detail *d = &m->detail;
    double power = m->sum_power / m->sum_on, explained = 0.0;
    double variance = m->sum_variance / (m->sum_on * m->sum_on) + wobble_variance(d, power);
    for (int i = 0; i < d->n_beeps; i++) {
        explained += (d->power[i] + d->variance[i]) / d->variance[i];
        strength->beeps_heard += d->power[i] > 0.25 * power;
    }
    strength->beeps = d->n_beeps;
    strength->score = score_of(m, state, explained, d->n_beeps);
    strength->phase_s = d->timing.start_s;
    struct thrum_lock_energy gaps = thrum_lock_measure_gaps(m->lock, state);
    d->gap_over_on_db = thrum_db_from_power(gaps.power / fmax(power, 1e-30));
    bool keyed = m->voice.steady || gaps.power < 0.25 * power;
    d->other_cadence = strength->score < HEARD_LG && !keyed;
    strength->heard = strength->score < HEARD_LG && keyed && power > 0.0 && not_one_beep(d) &&
                      strength->beeps_heard * 2 > strength->beeps;
    if (!strength->heard) {
        strength->high_db = thrum_db_from_power(fmax(power, 0.0) + 2.0 * sqrt(fmax(variance, 0.0)));
        return;
    }
    double relative = variance / (power * power);
    strength->dbfs = thrum_db_from_power(power) + 2.1715 * relative; /* E lg of a noisy power is low by that */
    strength->sd_db = 4.3429 * sqrt(relative);
    strength->low_db = strength->dbfs - 1.96 * strength->sd_db;
    strength->high_db = strength->dbfs + 1.96 * strength->sd_db;
    strength->tone_hz = m->voice.tones_hz[0] + state->tone_offset_hz[0];
}

void thrum_strength_meter_run(struct thrum_strength_meter *meter, const float *x, size_t n,
                              const struct thrum_hum_source *hum, int n_hum, struct thrum_strength *strength)
{
    struct thrum_strength_meter *m = meter;
    struct thrum_strength_detail *d = &m->detail;
    struct thrum_lock_state state;
    *strength = (struct thrum_strength){.dbfs = THRUM_FLOOR_DBFS, .low_db = THRUM_FLOOR_DBFS,
                                        .tone_hz = m->voice.tones_hz[0]};
    memset(d, 0, sizeof *d);
    m->first = thrum_baseband_first(m->basebands[0]);
    m->count = thrum_baseband_count(m->basebands[0], n);
    if (m->count > m->count_max)
        m->count = m->count_max;
    if ((double)m->count / m->basebands[0]->step_hz < 0.05)
        return;
    for (int k = 0; k < m->voice.n_tones; k++) {
        thrum_baseband_run(m->basebands[k], x, n, m->tone[k].z);
        prepare_tone(m, &m->tone[k], hum, n_hum);
        for (int i = 0; i < m->tone[k].n_near; i++)
            d->hum_on_tone |= fabs(m->tone[k].near[i].offset_hz) < 3.0;
    }
    lock_on(m, &state);
    for (int round = 0; round < 2; round++) {
        for (int k = 0; k < m->voice.n_tones; k++)
            fit_tone(m, &state, k, false);
        if (round == 0) {
            use_clean(m);
            thrum_lock_refine(m->lock, &state);
        }
    }
    m->sum_power = m->sum_variance = m->sum_on = 0.0;
    for (int k = 0; k < m->voice.n_tones; k++)
        fit_tone(m, &state, k, true);
    use_clean(m);
    d->timing = thrum_lock_timing(m->lock, &state);
    d->slope_hz_per_s = state.slope_hz_per_s;
    d->noise_density = 0.5 * m->tone[0].noise / m->basebands[0]->step_hz;
    if (m->sum_on > 0.0)
        fill_strength(m, &state, strength);
}
