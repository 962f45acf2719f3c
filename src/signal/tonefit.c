#include "signal/tonefit.h"

#include <stdlib.h>
#include <string.h>

#include "signal/solve.h"
#include "thrum/units.h"

enum {
    STRIDE = THRUM_TONEFIT_UNKNOWNS,
    LINE_COLUMNS = 25 /* of one hum line, at most */
};

#define WINDOW_STRETCH 1.25 /* the hum basis repeats after this many lengths of the stretch, not after one */
#define BASIS_HZ       1.6  /* the hum basis reaches this far on either side of a line */

/* A column of the model: zero outside [from, to). */
struct column {
    size_t from, to;
    struct cplx *v; /* v[m - from] */
};

struct thrum_tonefit {
    const struct thrum_baseband *baseband;
    size_t count_max;
    struct cplx *step;  /* [2 half + 2] step response for one offset */
    struct cplx *store; /* the beeps' columns, one after another */
    size_t store_size, stored;
    struct cplx *hum;   /* the hum's: [LINES * LINE_COLUMNS][count_max], as made last for... */
    struct cplx *apart; /* [count_max] the turn from one column of a line to the next */
    struct thrum_hum_line made[THRUM_TONEFIT_LINES]; /* ...these lines */
    int n_made;
    size_t made_first, made_count;
    struct column column[THRUM_TONEFIT_UNKNOWNS];
    struct cplx *matrix; /* [STRIDE][STRIDE] */
    struct cplx rhs[THRUM_TONEFIT_UNKNOWNS];
    struct cplx *inverse;                 /* [BEEPS][BEEPS] */
    struct cplx *residual, *no_hum;       /* [count_max] */
    struct cplx *tone;                    /* [count_max] exp(j tone phase) */
    struct cplx *bent;                    /* [CURVED][count_max] derivatives */
    struct cplx *shadow;                  /* [CURVED][STRIDE] X^H d, then its solution */
    int n;                                /* unknowns of the last run */
    double stiff[THRUM_TONEFIT_UNKNOWNS]; /* what the prior added to the diagonal of the hum's */
};

enum thrum_status thrum_tonefit_create(const struct thrum_baseband *baseband, size_t count_max,
                                       struct thrum_tonefit **fit)
{
    struct thrum_tonefit *f = calloc(1, sizeof *f);
    *fit = NULL;
    if (!f)
        return THRUM_ERR_MEM;
    f->baseband = baseband;
    f->count_max = count_max;
    f->store_size = count_max * 8 + THRUM_TONEFIT_BEEPS * 64;
    f->step = calloc((size_t)baseband->half * 2 + 2, sizeof *f->step);
    f->store = calloc(f->store_size, sizeof *f->store);
    f->hum = calloc(count_max * THRUM_TONEFIT_LINES * LINE_COLUMNS, sizeof *f->hum);
    f->apart = calloc(count_max, sizeof *f->apart);
    f->matrix = calloc((size_t)STRIDE * STRIDE, sizeof *f->matrix);
    f->inverse = calloc((size_t)THRUM_TONEFIT_BEEPS * THRUM_TONEFIT_BEEPS, sizeof *f->inverse);
    f->residual = calloc(count_max, sizeof *f->residual);
    f->no_hum = calloc(count_max, sizeof *f->no_hum);
    f->tone = calloc(count_max, sizeof *f->tone);
    f->bent = calloc(count_max * THRUM_TONEFIT_CURVED, sizeof *f->bent);
    f->shadow = calloc((size_t)STRIDE * THRUM_TONEFIT_CURVED, sizeof *f->shadow);
    if (!f->step || !f->store || !f->hum || !f->apart || !f->matrix || !f->inverse || !f->residual ||
        !f->no_hum || !f->tone || !f->bent || !f->shadow) {
        thrum_tonefit_destroy(f);
        return THRUM_ERR_MEM;
    }
    *fit = f;
    return THRUM_OK;
}

void thrum_tonefit_destroy(struct thrum_tonefit *fit)
{
    if (!fit)
        return;
    free(fit->step);
    free(fit->store);
    free(fit->hum);
    free(fit->apart);
    free(fit->matrix);
    free(fit->inverse);
    free(fit->residual);
    free(fit->no_hum);
    free(fit->tone);
    free(fit->bent);
    free(fit->shadow);
    free(fit);
}

static struct cplx *take(struct thrum_tonefit *f, struct column *column, size_t from, size_t to)
{
    if (f->stored + (to - from) > f->store_size)
        return NULL;
    column->from = from;
    column->to = to;
    column->v = f->store + f->stored;
    f->stored += to - from;
    return column->v;
}

/* A turning at the times of baseband samples from `first` on, less about_s. */
static void turns(const struct thrum_baseband *b, size_t first, size_t count, double offset_hz, double slope,
                  double about_s, struct cplx *out)
{
    struct thrum_turning turning = {b->step_hz, (double)first / b->step_hz - about_s, offset_hz, slope};
    thrum_cplx_turns(turning, count, out);
}

static bool beep_column(struct thrum_tonefit *f, const struct thrum_fit_input *in,
                        const struct thrum_fit_beep *beep, struct column *column)
{
    const struct thrum_baseband *b = f->baseband;
    double low = (beep->from - b->half - 1) / b->step - (double)in->first;
    double high = (beep->to + b->half + 1) / b->step - (double)in->first + 1.0;
    size_t from = low > 0.0 ? (size_t)low : 0,
           to = high < (double)in->count ? (size_t)fmax(high, 0.0) : in->count;
    if (to < from)
        to = from;
    struct cplx *v = take(f, column, from, to);
    for (size_t m = from; v && m < to; m++) {
        double at = (double)(in->first + m) * b->step;
        struct cplx gate = cplx_sub(thrum_baseband_step_at(b, f->step, at - beep->from),
                                    thrum_baseband_step_at(b, f->step, at - beep->to));
        v[m - from] = cplx_mul(gate, f->tone[m]);
    }
    return v != NULL;
}

static int line_reach(const struct thrum_baseband *b, size_t count)
{
    int reach = (int)(BASIS_HZ * WINDOW_STRETCH * (double)count / b->step_hz + 0.5);
    return reach > LINE_COLUMNS / 2 ? LINE_COLUMNS / 2 : reach;
}

/* Is the hum's part of the model the one that was made last? A climb changes only the tone's. */
static bool hum_is_made(const struct thrum_tonefit *f, const struct thrum_fit_input *in)
{
    bool same = f->n_made == in->n_lines && f->made_first == in->first && f->made_count == in->count;
    for (int l = 0; same && l < in->n_lines; l++)
        same = !(fabs(f->made[l].offset_hz - in->lines[l].offset_hz) > 0.0) &&
               !(fabs(f->made[l].slope_hz_per_s - in->lines[l].slope_hz_per_s) > 0.0);
    return same;
}

static void make_hum(struct thrum_tonefit *f, const struct thrum_fit_input *in)
{
    int reach = line_reach(f->baseband, in->count);
    double window_s = WINDOW_STRETCH * (double)in->count / f->baseband->step_hz;
    turns(f->baseband, in->first, in->count, 1.0 / window_s, 0.0, 0.0, f->apart);
    for (int l = 0; l < in->n_lines; l++) {
        struct cplx *column = f->hum + (size_t)(l * LINE_COLUMNS) * f->count_max;
        turns(f->baseband, in->first, in->count, in->lines[l].offset_hz - reach / window_s,
              in->lines[l].slope_hz_per_s, 0.0, column);
        for (int k = 0; k < 2 * reach; k++, column += f->count_max)
            thrum_cplx_multiply(column, f->apart, in->count, column + f->count_max);
    }
    if (in->n_lines > 0)
        memcpy(f->made, in->lines, (size_t)in->n_lines * sizeof *f->made);
    f->n_made = in->n_lines;
    f->made_first = in->first;
    f->made_count = in->count;
}

static void line_columns(struct thrum_tonefit *f, const struct thrum_fit_input *in, int l,
                         struct column *column, double *prior)
{
    const struct thrum_baseband *b = f->baseband;
    const struct thrum_hum_line *line = &in->lines[l];
    int reach = line_reach(b, in->count);
    double window_s = WINDOW_STRETCH * (double)in->count / b->step_hz, sum = 0.0;
    for (int k = -reach; k <= reach; k++) {
        double r = k / window_s / line->width_hz;
        prior[k + reach] = 1.0 / (1.0 + r * r * r * r * r * r);
        sum += prior[k + reach];
    }
    for (int k = -reach; k <= reach; k++) {
        struct cplx *v = f->hum + (size_t)(l * LINE_COLUMNS + k + reach) * f->count_max;
        column[k + reach] = (struct column){.from = 0, .to = in->count, .v = v};
        prior[k + reach] *= line->power / sum;
    }
}

static struct cplx overlap(const struct column *a, const struct column *c)
{
    size_t from = a->from > c->from ? a->from : c->from, to = a->to < c->to ? a->to : c->to;
    return from < to ? thrum_cplx_dot(a->v + (from - a->from), c->v + (from - c->from), to - from)
                     : (struct cplx){0.0, 0.0};
}

/* Within one hum line two columns have a product that depends on how far apart their frequencies are, on nothing else. */
static bool same_apart(int i, int j, int n_beeps, int per_line)
{
    return j > n_beeps && (j - n_beeps) % per_line > 0 &&
           (i - n_beeps) / per_line == (j - n_beeps) / per_line;
}

static void normal_equations(struct thrum_tonefit *f, const struct thrum_fit_input *in, int n, int per_line,
                             const double *prior)
{
    for (int i = 0; i < n; i++) {
        const struct column *a = &f->column[i];
        for (int j = 0; j <= i; j++)
            f->matrix[i * STRIDE + j] = same_apart(i, j, in->n_beeps, per_line)
                                            ? f->matrix[(i - 1) * STRIDE + j - 1]
                                            : overlap(a, &f->column[j]);
        f->rhs[i] = thrum_cplx_dot(a->v, in->z + a->from, a->to - a->from);
    }
    for (int i = 0; i < n; i++)
        if (i >= in->n_beeps)
            f->matrix[i * STRIDE + i].re += f->stiff[i] = in->noise / fmax(prior[i - in->n_beeps], 1e-30);
        else
            f->matrix[i * STRIDE + i].re += 1e-9; /* a beep outside the samples: amplitude 0, not a failure */
}

/* Rows of the inverse that belong to beeps. */
static void beep_covariance(struct thrum_tonefit *f, int n, int n_beeps)
{
    struct cplx unit[THRUM_TONEFIT_UNKNOWNS];
    for (int i = 0; i < n_beeps; i++) {
        memset(unit, 0, sizeof unit);
        unit[i].re = 1.0; /* before it all stays zero */
        thrum_solve_forward(f->matrix + (long)i * (STRIDE + 1), n - i, STRIDE, unit + i);
        thrum_solve_back(f->matrix, n, STRIDE, unit);
        for (int j = 0; j < n_beeps; j++)
            f->inverse[j * THRUM_TONEFIT_BEEPS + i] = unit[j];
    }
}

static void subtract(struct cplx *from, const struct column *column, struct cplx amplitude)
{
    thrum_cplx_take_off(amplitude, column->v, column->to - column->from, from + column->from);
}

enum thrum_status thrum_tonefit_run(struct thrum_tonefit *fit, const struct thrum_fit_input *in,
                                    struct thrum_fit_output *out)
{
    double prior[THRUM_TONEFIT_UNKNOWNS];
    int per_line = 2 * line_reach(fit->baseband, in->count) + 1, n = in->n_beeps + in->n_lines * per_line;
    if (in->n_beeps > THRUM_TONEFIT_BEEPS || in->n_lines > THRUM_TONEFIT_LINES || in->count > fit->count_max)
        return THRUM_ERR_ARG;
    fit->stored = 0;
    fit->n = n;
    if (in->n_beeps > 0) {
        thrum_baseband_step_response(fit->baseband, in->offset_hz, fit->step);
        turns(fit->baseband, in->first, in->count, in->offset_hz, in->slope_hz_per_s, in->about_s, fit->tone);
    }
    for (int i = 0; i < in->n_beeps; i++)
        if (!beep_column(fit, in, &in->beeps[i], &fit->column[i]))
            return THRUM_ERR_ARG;
    if (!hum_is_made(fit, in))
        make_hum(fit, in);
    for (int l = 0; l < in->n_lines; l++)
        line_columns(fit, in, l, &fit->column[in->n_beeps + l * per_line], &prior[l * per_line]);
    normal_equations(fit, in, n, per_line, prior);
    if (n > 0 && !thrum_solve_factor(fit->matrix, n, STRIDE))
        return THRUM_ERR_NOT_FOUND;
    thrum_solve_forward(fit->matrix, n, STRIDE, fit->rhs);
    thrum_solve_back(fit->matrix, n, STRIDE, fit->rhs);
    beep_covariance(fit, n, in->n_beeps);

    memcpy(fit->no_hum, in->z, in->count * sizeof *in->z);
    for (int i = in->n_beeps; i < n; i++)
        subtract(fit->no_hum, &fit->column[i], fit->rhs[i]);
    memcpy(fit->residual, fit->no_hum, in->count * sizeof *in->z);
    for (int i = 0; i < in->n_beeps; i++)
        subtract(fit->residual, &fit->column[i], fit->rhs[i]);
    *out = (struct thrum_fit_output){.amplitude = fit->rhs,
                                     .covariance = fit->inverse,
                                     .stride = THRUM_TONEFIT_BEEPS,
                                     .residual = fit->residual,
                                     .no_hum = fit->no_hum};
    return THRUM_OK;
}

int thrum_tonefit_line_unknowns(const struct thrum_baseband *baseband, size_t count)
{
    return 2 * line_reach(baseband, count) + 1;
}

/* The trace of what turns the sound into its hum: of every unknown, 1 less its prior's share in what holds it. */
double thrum_tonefit_taken(const struct thrum_tonefit *fit, const struct thrum_fit_input *in)
{
    struct cplx unit[THRUM_TONEFIT_UNKNOWNS];
    double taken = 0.0;
    for (int i = in->n_beeps; i < fit->n; i++) {
        int n = fit->n - i;
        memset(unit, 0, (size_t)n * sizeof *unit);
        unit[0].re = 1.0;
        thrum_solve_forward(fit->matrix + (long)i * (STRIDE + 1), n, STRIDE, unit);
        double inverse = 0.0;
        for (int k = 0; k < n; k++)
            inverse += cplx_power(unit[k]);
        taken += 1.0 - fit->stiff[i] * inverse;
    }
    return taken;
}

/* Slope of the step response at u: the taps themselves, turned. */
static struct cplx edge_at(const struct thrum_tonefit *f, double u)
{
    return cplx_sub(thrum_baseband_step_at(f->baseband, f->step, u + 0.5),
                    thrum_baseband_step_at(f->baseband, f->step, u - 0.5));
}

/* What one edge of a beep does to the columns of the timings: something only as far as the filter reaches. */
static void bend_by_edge(struct thrum_tonefit *f, const struct thrum_fit_input *in,
                         const struct column *column, struct cplx amplitude, double edge, const double *moves)
{
    const struct thrum_baseband *b = f->baseband;
    double low = (edge - b->half - 1.5) / b->step - (double)in->first;
    double high = (edge + b->half + 1.5) / b->step - (double)in->first + 1.0;
    size_t from = low > (double)column->from ? (size_t)low : column->from;
    size_t to = high < (double)column->to ? (size_t)fmax(high, 0.0) : column->to;
    for (size_t m = from; m < to; m++) {
        double u = (double)(in->first + m) * b->step - edge;
        struct cplx moved = cplx_mul(cplx_mul(amplitude, f->tone[m]), edge_at(f, u));
        for (int i = 0; i < in->n_timings; i++) {
            struct cplx *d = &f->bent[(size_t)(2 + i) * f->count_max + m];
            *d = cplx_add(*d, cplx_scale(moved, moves[i]));
        }
    }
}

/* The derivatives of the tone's part of the model, as columns over the whole fit. */
static void bend_columns(struct thrum_tonefit *f, const struct thrum_fit_input *in)
{
    const struct thrum_baseband *b = f->baseband;
    size_t width = f->count_max;
    for (int i = 0; i < 2 + in->n_timings; i++)
        memset(f->bent + (size_t)i * width, 0, in->count * sizeof *f->bent);
    for (int k = 0; k < in->n_beeps; k++) {
        const struct column *column = &f->column[k];
        const struct thrum_fit_beep *beep = &in->beeps[k];
        for (size_t m = column->from; m < column->to; m++) {
            double u = (double)(in->first + m) / b->step_hz - in->about_s;
            struct cplx s = cplx_mul(f->rhs[k], column->v[m - column->from]), turned = {-s.im, s.re};
            f->bent[m] = cplx_add(f->bent[m], cplx_scale(turned, 2.0 * THRUM_PI * u));
            f->bent[width + m] = cplx_add(f->bent[width + m], cplx_scale(turned, THRUM_PI * u * u));
        }
        if (in->n_timings == 0)
            continue;
        struct cplx less = {-f->rhs[k].re, -f->rhs[k].im};
        bend_by_edge(f, in, column, less, beep->from, beep->from_moves);
        bend_by_edge(f, in, column, f->rhs[k], beep->to, beep->to_moves);
    }
}

void thrum_tonefit_slope(struct thrum_tonefit *fit, const struct thrum_fit_input *in,
                         struct thrum_fit_slope *slope)
{
    size_t width = fit->count_max;
    slope->n = 2 + in->n_timings;
    bend_columns(fit, in);
    for (int i = 0; i < slope->n; i++) {
        const struct cplx *d = fit->bent + (size_t)i * width;
        struct cplx *shadow = fit->shadow + (long)i * STRIDE;
        for (int k = 0; k < fit->n; k++) {
            const struct column *c = &fit->column[k];
            shadow[k] = thrum_cplx_dot(c->v, d + c->from, c->to - c->from);
        }
        thrum_solve_forward(fit->matrix, fit->n, STRIDE, shadow); /* now L^-1 X^H d */
        slope->uphill[i] += thrum_cplx_dot(d, fit->residual, in->count).re;
        for (int j = 0; j <= i; j++) {
            double h = thrum_cplx_dot(d, fit->bent + (size_t)j * width, in->count).re -
                       thrum_cplx_dot(shadow, fit->shadow + (long)j * STRIDE, (size_t)fit->n).re;
            slope->curvature[i][j] += h;
            if (j != i)
                slope->curvature[j][i] += h;
        }
    }
    for (int i = 0; i < slope->n; i++) {
        struct cplx *shadow = fit->shadow + (long)i * STRIDE;
        thrum_solve_back(fit->matrix, fit->n, STRIDE, shadow);
        for (int k = 0; k < in->n_beeps; k++)
            slope->power_moves[i] -= 2.0 * in->beeps[k].weight * cplx_mul_conj(fit->rhs[k], shadow[k]).re;
    }
}
