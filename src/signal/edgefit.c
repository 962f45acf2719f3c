#include "signal/edgefit.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "signal/beeps.h"
#include "signal/cplx.h"
#include "thrum/units.h"

#define PART_S      0.15 /* pieces beside an edge are no longer: level and frequency may drift */
#define LONGEST_S   0.6  /* pieces for the frequency */
#define BLOCK_S     0.004
#define EDGE_S      0.020 /* how far an edge may lie from where it was thought */
#define NEAR_EDGE_S 0.003
#define BAND_HZ     60.0
#define ROUGHLY_S   0.006  /* pieces keep so far from edges that are only roughly known... */
#define CLOSELY_S   0.0005 /* ...and from edges that have been placed */

enum { PIECES = 4096, EDGES = 2048, PASSES = 4 };

/* A stretch in which one tone sounds. */
struct piece {
    int tone;
    size_t from, to;
};

/* One edge of the pattern in the sound. */
struct edge {
    int step;      /* it begins this step of the pattern */
    int number;    /* of the repetition */
    double at;     /* sample, as the pattern has it */
    double heard;  /* sample, as the sound has it */
    double weight; /* 0 when it is not believed */
};

struct thrum_edgefit {
    double rate_hz;
    size_t n_max, n;
    int n_tones;
    const float *x;
    struct thrum_voice voice;
    double begin_s; /* repetition 0 begins here */
    double slope_hz_per_s;
    struct cplx *sum[THRUM_VOICE_TONES]; /* [n_max + 1] running sums of x turned back by the tone */
    struct cplx *block;                  /* [n_max / block + 1] */
    float *rest;                         /* [n_max] */
    struct piece *piece;                 /* [PIECES] */
    struct edge *edge;                   /* [EDGES] */
    int n_pieces, n_edges;
    double scatter; /* of the edges about the pattern, samples */
};

enum thrum_status thrum_edgefit_create(double rate_hz, size_t n_max, int n_tones, struct thrum_edgefit **fit)
{
    *fit = NULL;
    struct thrum_edgefit *f = calloc(1, sizeof *f);
    if (!f)
        return THRUM_ERR_MEM;
    f->rate_hz = rate_hz;
    f->n_max = n_max;
    f->n_tones = n_tones;
    bool ok = true;
    for (int k = 0; k < n_tones; k++) {
        f->sum[k] = calloc(n_max + 1, sizeof *f->sum[k]);
        ok = ok && f->sum[k];
    }
    f->block = calloc((size_t)((double)n_max / (BLOCK_S * rate_hz)) + 2, sizeof *f->block);
    f->rest = calloc(n_max, sizeof *f->rest);
    f->piece = calloc(PIECES, sizeof *f->piece);
    f->edge = calloc(EDGES, sizeof *f->edge);
    if (!ok || !f->block || !f->rest || !f->piece || !f->edge)
        goto fail;
    *fit = f;
    return THRUM_OK;
fail:
    thrum_edgefit_destroy(f);
    return THRUM_ERR_MEM;
}

void thrum_edgefit_destroy(struct thrum_edgefit *fit)
{
    if (!fit)
        return;
    for (int k = 0; k < THRUM_VOICE_TONES; k++)
        free(fit->sum[k]);
    free(fit->block);
    free(fit->rest);
    free(fit->piece);
    free(fit->edge);
    free(fit);
}

static double slope_of(const struct thrum_edgefit *f, int tone)
{
    return f->slope_hz_per_s * f->voice.tones_hz[tone] / f->voice.tones_hz[0];
}

/* exp(-j phase) of the tone at sample i, the tone's frequency being meant at the middle. */
static struct cplx turn_at(const struct thrum_edgefit *f, int tone, size_t i)
{
    double u = ((double)i - 0.5 * (double)f->n) / f->rate_hz;
    return cplx_turn(-2.0 * THRUM_PI *
                     fmod(f->voice.tones_hz[tone] * u + 0.5 * slope_of(f, tone) * u * u, 1.0));
}

static void add_up(struct thrum_edgefit *f, int tone)
{
    enum { RENEW = 256 };
    struct cplx now = {1.0, 0.0}, step = {1.0, 0.0}, sum = {0.0, 0.0};
    double dt = 1.0 / f->rate_hz;
    struct cplx bend = cplx_turn(-2.0 * THRUM_PI * slope_of(f, tone) * dt * dt);
    f->sum[tone][0] = sum;
    for (size_t i = 0; i < f->n; i++) {
        if (i % RENEW == 0) {
            double u = ((double)i - 0.5 * (double)f->n) * dt;
            now = turn_at(f, tone, i);
            step = cplx_turn(
                -2.0 * THRUM_PI *
                ((f->voice.tones_hz[tone] + slope_of(f, tone) * u) * dt + 0.5 * slope_of(f, tone) * dt * dt));
        }
        sum = cplx_add(sum, cplx_scale(now, (double)f->x[i]));
        f->sum[tone][i + 1] = sum;
        now = cplx_mul(now, step);
        step = cplx_mul(step, bend);
    }
}

static double explained(const struct thrum_edgefit *f, int tone, size_t from, size_t to)
{
    if (tone == THRUM_SILENCE || to <= from)
        return 0.0;
    return 2.0 * cplx_power(cplx_sub(f->sum[tone][to], f->sum[tone][from])) / (double)(to - from);
}

/* Where the tones sound, cut into equal pieces no longer than longest_s. */
static void list_pieces(struct thrum_edgefit *f, double longest_s, double margin_s)
{
    double cycle = thrum_voice_cycle_s(&f->voice), length = (double)f->n / f->rate_hz;
    double t = f->begin_s - cycle * ceil(f->begin_s / cycle);
    f->n_pieces = 0;
    for (; t < length; t += cycle) {
        double from = t;
        for (int i = 0; i < f->voice.n_steps; i++) {
            const struct thrum_voice_step *step = &f->voice.step[i];
            double trim = fmin(margin_s, 0.1 * step->s);
            double a = fmax(from + trim, 0.0), b = fmin(from + step->s - trim, length);
            int parts = (int)ceil((b - a) / longest_s - 1e-9);
            from += step->s;
            if (step->tone == THRUM_SILENCE || b - a < 0.3 * fmin(step->s, longest_s))
                continue;
            for (int p = 0; p < parts && f->n_pieces < PIECES; p++)
                f->piece[f->n_pieces++] =
                    (struct piece){step->tone, (size_t)((a + (b - a) * p / parts) * f->rate_hz),
                                   (size_t)((a + (b - a) * (p + 1) / parts) * f->rate_hz)};
        }
    }
}

/* What the pieces of a tone explain when it is moved by offset and drifts more by slope. */
static double explained_at(const struct thrum_edgefit *f, int tone, double offset_hz, double slope)
{
    size_t block = (size_t)(BLOCK_S * f->rate_hz);
    double all = 0.0, middle = 0.5 * (double)f->n;
    for (int p = 0; p < f->n_pieces; p++) {
        const struct piece *piece = &f->piece[p];
        struct cplx sum = {0.0, 0.0};
        if (piece->tone != tone)
            continue;
        for (size_t i = piece->from; i < piece->to; i += block) {
            size_t end = i + block < piece->to ? i + block : piece->to;
            double u = (0.5 * (double)(i + end) - middle) / f->rate_hz;
            struct cplx back = cplx_turn(-2.0 * THRUM_PI * (offset_hz * u + 0.5 * slope * u * u));
            sum = cplx_add(sum, cplx_mul(back, cplx_sub(f->sum[tone][end], f->sum[tone][i])));
        }
        all += 2.0 * cplx_power(sum) / (double)(piece->to - piece->from);
    }
    return all;
}

static double longest_piece_s(const struct thrum_edgefit *f, int tone)
{
    size_t most = 1;
    for (int p = 0; p < f->n_pieces; p++)
        if (f->piece[p].tone == tone && f->piece[p].to - f->piece[p].from > most)
            most = f->piece[p].to - f->piece[p].from;
    return (double)most / f->rate_hz;
}

static void find_offset(const struct thrum_edgefit *f, int tone, double reach, double *offset, double slope)
{
    double step = 0.15 / longest_piece_s(f, tone), best = -1.0, at = *offset;
    for (double o = *offset - reach; o <= *offset + reach; o += step) {
        double e = explained_at(f, tone, o, slope);
        if (e > best) {
            best = e;
            at = o;
        }
    }
    for (int i = 0; i < 3; i++) { /* parabolas, ever narrower */
        double a = explained_at(f, tone, at - step, slope), b = explained_at(f, tone, at, slope),
               c = explained_at(f, tone, at + step, slope), bend = a - 2.0 * b + c;
        if (bend < 0.0)
            at += fmin(fmax(0.5 * (a - c) / bend, -1.0), 1.0) * step;
        step *= 0.3;
    }
    *offset = at;
}

static double find_slope(const struct thrum_edgefit *f, int tone, double offset)
{
    double best = -1.0, at = 0.0;
    for (double s = -1.0; s <= 1.001; s += 0.1) {
        double e = explained_at(f, tone, offset, s);
        if (e > best) {
            best = e;
            at = s;
        }
    }
    double step = 0.1, a = explained_at(f, tone, offset, at - step), b = explained_at(f, tone, offset, at),
           c = explained_at(f, tone, offset, at + step), bend = a - 2.0 * b + c;
    return bend < 0.0 ? at + fmin(fmax(0.5 * (a - c) / bend, -1.0), 1.0) * step : at;
}

/* All tones where they explain most, the edges kept away from; the drift from the first one. */
static void tune(struct thrum_edgefit *f, double reach_hz, double margin_s)
{
    double offset[THRUM_VOICE_TONES] = {0.0}, slope = 0.0;
    list_pieces(f, LONGEST_S, margin_s);
    for (int k = 0; k < f->n_tones; k++)
        add_up(f, k);
    find_offset(f, 0, reach_hz, &offset[0], 0.0);
    slope = find_slope(f, 0, offset[0]);
    find_offset(f, 0, 0.3 / longest_piece_s(f, 0), &offset[0], slope);
    for (int k = 1; k < f->n_tones; k++)
        find_offset(f, k, reach_hz, &offset[k], slope * f->voice.tones_hz[k] / f->voice.tones_hz[0]);
    for (int k = 0; k < f->n_tones; k++)
        f->voice.tones_hz[k] += offset[k];
    f->slope_hz_per_s += slope;
    for (int k = 0; k < f->n_tones; k++)
        add_up(f, k);
}

static void list_edges(struct thrum_edgefit *f)
{
    double cycle = thrum_voice_cycle_s(&f->voice), length = (double)f->n / f->rate_hz;
    int number = -(int)ceil(f->begin_s / cycle);
    f->n_edges = 0;
    for (; f->begin_s + number * cycle < length; number++) {
        double t = f->begin_s + number * cycle;
        for (int i = 0; i < f->voice.n_steps; i++) {
            if (t > 0.01 && t < length - 0.01 && f->n_edges < EDGES)
                f->edge[f->n_edges++] = (struct edge){i, number, t * f->rate_hz, t * f->rate_hz, 1.0};
            t += f->voice.step[i].s;
        }
    }
}

/* What the two sides of an edge explain when it lies at sample e; the far ends stay. */
static double sides(const struct thrum_edgefit *f, const struct edge *edge, double e)
{
    const struct thrum_voice_step *step = f->voice.step;
    int after = edge->step, before = (edge->step + f->voice.n_steps - 1) % f->voice.n_steps;
    double left = edge->at - f->rate_hz * fmin(PART_S, 0.9 * step[before].s);
    double right = edge->at + f->rate_hz * fmin(PART_S, 0.9 * step[after].s);
    size_t a = (size_t)fmax(left, 0.0), b = (size_t)fmin(right, (double)f->n),
           m = (size_t)fmin(fmax(lrint(e) < 0 ? 0.0 : (double)lrint(e), (double)a), (double)b);
    return explained(f, step[before].tone, a, m) + explained(f, step[after].tone, m, b);
}

/* The best place of a set of edges moved together, in samples from where they are; `only` < 0: all of the step. */
static double best_move(const struct thrum_edgefit *f, int step, int only, double reach)
{
    double best = -1.0, at = 0.0;
    int r = (int)ceil(reach);
    for (int d = -r; d <= r; d++) {
        double e = 0.0;
        for (int i = 0; i < f->n_edges; i++)
            if (only >= 0 ? i == only : f->edge[i].step == step && f->edge[i].weight > 0.0)
                e += sides(f, &f->edge[i], f->edge[i].at + d);
        if (e > best) {
            best = e;
            at = d;
        }
    }
    return at;
}

static double reach_of(const struct thrum_edgefit *f, int step, double most_s)
{
    int before = (step + f->voice.n_steps - 1) % f->voice.n_steps;
    return f->rate_hz * fmin(most_s, 0.35 * fmin(f->voice.step[step].s, f->voice.step[before].s));
}

/* Start, cycle and places by least squares from the edges; edges far from them lose their weight. */
static void regress(struct thrum_edgefit *f)
{
    int p = f->voice.n_steps;
    double s2 = 0.0, s1t = 0.0, mean_t[THRUM_VOICE_STEPS] = {0}, mean_m[THRUM_VOICE_STEPS] = {0};
    double count[THRUM_VOICE_STEPS] = {0};
    for (int i = 0; i < f->n_edges; i++) {
        const struct edge *e = &f->edge[i];
        mean_t[e->step] += e->weight * e->heard;
        mean_m[e->step] += e->weight * e->number;
        count[e->step] += e->weight;
    }
    for (int j = 0; j < p; j++)
        if (count[j] > 0.0) {
            mean_t[j] /= count[j];
            mean_m[j] /= count[j];
        }
    for (int i = 0; i < f->n_edges; i++) {
        const struct edge *e = &f->edge[i];
        double m = e->number - mean_m[e->step];
        s2 += e->weight * m * m;
        s1t += e->weight * m * (e->heard - mean_t[e->step]);
    }
    double cycle = s2 > 0.1 ? s1t / s2 : thrum_voice_cycle_s(&f->voice) * f->rate_hz,
           place[THRUM_VOICE_STEPS + 1] = {0.0};
    double old = f->begin_s * f->rate_hz, squares = 0.0, weights = 0.0;
    for (int j = 0; j < p; j++) {
        place[j] = count[j] > 0.0 ? mean_t[j] - cycle * mean_m[j] : old;
        old += f->voice.step[j].s * f->rate_hz;
    }
    place[p] = place[0] + cycle;
    for (int i = 0; i < f->n_edges; i++) {
        double away = f->edge[i].heard - place[f->edge[i].step] - cycle * f->edge[i].number;
        squares += f->edge[i].weight * away * away;
        weights += f->edge[i].weight;
    }
    f->scatter = sqrt(squares / fmax(weights - p - 1.0, 1.0) + 1.0 / 12.0); /* edges are read to a sample */
    for (int i = 0; i < f->n_edges; i++) {
        struct edge *e = &f->edge[i];
        double fits = place[e->step] + cycle * e->number;
        e->weight = fabs(e->heard - fits) > 3.0 * f->scatter + 2.0 ? 0.0 : 1.0;
    }
    f->begin_s = place[0] / f->rate_hz;
    for (int j = 0; j < p; j++)
        f->voice.step[j].s = fmax((place[j + 1] - place[j]) / f->rate_hz, 0.01);
}

static void place_edges(struct thrum_edgefit *f)
{
    for (int pass = 0; pass < PASSES; pass++) {
        double reach_s = pass == 0 ? EDGE_S : NEAR_EDGE_S;
        list_edges(f);
        if (pass % 2 == 0) { /* each for itself, then the pattern through them */
            for (int i = 0; i < f->n_edges; i++)
                f->edge[i].heard += best_move(f, f->edge[i].step, i, reach_of(f, f->edge[i].step, reach_s));
            regress(f);
            regress(f); /* again without those that are far off */
            continue;
        }
        for (int j = 0; j < f->voice.n_steps; j++) { /* the same edge of all repetitions together */
            double move = best_move(f, j, -1, reach_of(f, j, reach_s)) / f->rate_hz;
            int before = (j + f->voice.n_steps - 1) % f->voice.n_steps;
            f->voice.step[before].s += move;
            f->voice.step[j].s -= move;
            if (j == 0)
                f->begin_s += move;
            list_edges(f);
        }
    }
}

/* Takes the pieces' tones out of the sound. Returns the mean power of the tones while they sound. */
static double take_out(struct thrum_edgefit *f, double *unevenness)
{
    double power = 0.0, on = 0.0, level[THRUM_VOICE_TONES] = {0}, weight[THRUM_VOICE_TONES] = {0},
           spread = 0.0;
    memcpy(f->rest, f->x, f->n * sizeof *f->rest);
    list_pieces(f, PART_S, 0.0);
    for (int p = 0; p < f->n_pieces; p++) {
        const struct piece *piece = &f->piece[p];
        double length = (double)(piece->to - piece->from);
        if (!(length >= 1.0))
            continue;
        struct cplx a = cplx_scale(cplx_sub(f->sum[piece->tone][piece->to], f->sum[piece->tone][piece->from]),
                                   2.0 / length);
        power += cplx_power(a) * length;
        on += length;
        level[piece->tone] += sqrt(cplx_power(a)) * length;
        weight[piece->tone] += length;
        struct cplx now = {0.0, 0.0},
                    step = cplx_turn(2.0 * THRUM_PI * f->voice.tones_hz[piece->tone] / f->rate_hz);
        double u = (0.5 * (double)(piece->from + piece->to) - 0.5 * (double)f->n) / f->rate_hz;
        step = cplx_turn(2.0 * THRUM_PI * (f->voice.tones_hz[piece->tone] + slope_of(f, piece->tone) * u) /
                         f->rate_hz);
        now = cplx_mul_conj(turn_at(f, piece->tone, piece->from), a);
        for (size_t i = piece->from; i < piece->to; i++) {
            f->rest[i] -= (float)now.re;
            now = cplx_mul(now, step);
        }
    }
    for (int k = 0; k < f->n_tones; k++)
        if (weight[k] > 0.0)
            spread += level[k] * level[k] / weight[k];
    *unevenness = spread > 0.0 ? sqrt(fmax(power / spread - 1.0, 0.0)) : 0.0;
    return on > 0.0 ? power / on : 0.0;
}

/* Power within BAND_HZ of a tone, as amplitude squared: Hann-windowed blocks against the tone's own turn. */
static double band_power(const struct thrum_edgefit *f, const float *x, double hz)
{
    size_t block = (size_t)(f->rate_hz / (2.0 * BAND_HZ) * 2.0); /* main lobe reaches to 2 / block */
    double power = 0.0;
    size_t count = 0;
    for (size_t from = 0; from + block <= f->n; from += block / 2, count++) {
        struct cplx sum = {0.0, 0.0}, now = {1.0, 0.0}, step = cplx_turn(-2.0 * THRUM_PI * hz / f->rate_hz);
        for (size_t i = 0; i < block; i++) {
            double w = 0.5 - 0.5 * cos(2.0 * THRUM_PI * (double)i / (double)block);
            sum = cplx_add(sum, cplx_scale(now, w * (double)x[from + i]));
            now = cplx_mul(now, step);
        }
        power += cplx_power(cplx_scale(sum, 4.0 / (double)block));
    }
    return count ? power / (double)count : 0.0;
}

enum thrum_status thrum_edgefit_run(struct thrum_edgefit *fit, const float *x, size_t n,
                                    const struct thrum_voice *voice, double begin_s,
                                    struct thrum_edgefit_result *result)
{
    struct thrum_edgefit *f = fit;
    memset(result, 0, sizeof *result);
    f->x = x;
    f->n = n < f->n_max ? n : f->n_max;
    f->voice = *voice;
    f->begin_s = begin_s;
    f->slope_hz_per_s = 0.0;
    double shortest = thrum_beeps_shortest_s(voice);
    tune(f, fmax(3.0, 0.3 / shortest), ROUGHLY_S);
    if (!voice->steady) {
        list_edges(f);
        if (f->n_edges < 1)
            return THRUM_ERR_NOT_FOUND;
        place_edges(f);
        tune(f, 0.3 / fmin(shortest, LONGEST_S), CLOSELY_S);
        place_edges(f);
    }
    double power = take_out(f, &result->unevenness), left = 0.0, all = 0.0;
    for (int k = 0; k < f->n_tones; k++) {
        left += band_power(f, f->rest, f->voice.tones_hz[k]);
        all += band_power(f, f->x, f->voice.tones_hz[k]);
    }
    double cycle = thrum_voice_cycle_s(&f->voice);
    result->voice = f->voice;
    result->voice.level_dbfs = thrum_db_from_power(power);
    result->voice.spread_s = f->scatter / f->rate_hz * sqrt(2.0 * f->voice.n_steps / fmax(f->n_edges, 1.0));
    result->start_s = -f->begin_s + cycle * ceil(f->begin_s / cycle);
    result->slope_hz_per_s = f->slope_hz_per_s;
    result->quality_db = thrum_db_from_power(power / fmax(left / f->n_tones, 1e-20));
    result->explained = all > 0.0 ? fmax(1.0 - left / all, 0.0) : 0.0;
    return THRUM_OK;
}

const float *thrum_edgefit_rest(const struct thrum_edgefit *fit)
{
    return fit->rest;
}
