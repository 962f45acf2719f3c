#include "signal/tonefit.h"

#include <stdlib.h>
#include <string.h>

#include "signal/solve.h"
#include "thrum/units.h"

enum { STRIDE = THRUM_TONEFIT_UNKNOWNS };

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
    struct cplx *step;      /* [2 half + 2] step response for one offset */
    double step_offset_hz;
    struct cplx *store;     /* the columns, one after another */
    size_t store_size, stored;
    struct column column[THRUM_TONEFIT_UNKNOWNS];
    struct cplx *matrix;    /* [STRIDE][STRIDE] */
    struct cplx rhs[THRUM_TONEFIT_UNKNOWNS];
    struct cplx *inverse;   /* [BEEPS][BEEPS] */
    struct cplx *residual, *no_hum; /* [count_max] */
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
    f->store_size = count_max * (THRUM_TONEFIT_LINES * 25 + 8) + THRUM_TONEFIT_BEEPS * 64;
    f->step = calloc((size_t)baseband->half * 2 + 2, sizeof *f->step);
    f->store = calloc(f->store_size, sizeof *f->store);
    f->matrix = calloc((size_t)STRIDE * STRIDE, sizeof *f->matrix);
    f->inverse = calloc((size_t)THRUM_TONEFIT_BEEPS * THRUM_TONEFIT_BEEPS, sizeof *f->inverse);
    f->residual = calloc(count_max, sizeof *f->residual);
    f->no_hum = calloc(count_max, sizeof *f->no_hum);
    if (!f->step || !f->store || !f->matrix || !f->inverse || !f->residual || !f->no_hum) {
        thrum_tonefit_destroy(f);
        return THRUM_ERR_MEM;
    }
    f->step_offset_hz = 1e9;
    *fit = f;
    return THRUM_OK;
}

void thrum_tonefit_destroy(struct thrum_tonefit *fit)
{
    if (!fit)
        return;
    free(fit->step);
    free(fit->store);
    free(fit->matrix);
    free(fit->inverse);
    free(fit->residual);
    free(fit->no_hum);
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

/* exp(j 2 pi (offset t + slope t^2 / 2)) at baseband sample m of the stretch */
static struct cplx turn_at(const struct thrum_baseband *b, size_t m, double offset_hz, double slope)
{
    double t = (double)m / b->step_hz;
    return cplx_turn(2.0 * THRUM_PI * fmod(offset_hz * t + 0.5 * slope * t * t, 1.0));
}

static bool beep_column(struct thrum_tonefit *f, const struct thrum_fit_input *in, const struct thrum_fit_beep *beep,
                        struct column *column)
{
    const struct thrum_baseband *b = f->baseband;
    if (beep->offset_hz != f->step_offset_hz) {
        thrum_baseband_step_response(b, beep->offset_hz, f->step);
        f->step_offset_hz = beep->offset_hz;
    }
    double low = (beep->from - b->half - 1) / b->step - (double)in->first;
    double high = (beep->to + b->half + 1) / b->step - (double)in->first + 1.0;
    size_t from = low > 0.0 ? (size_t)low : 0, to = high < (double)in->count ? (size_t)fmax(high, 0.0) : in->count;
    if (to < from)
        to = from;
    struct cplx *v = take(f, column, from, to);
    for (size_t m = from; v && m < to; m++) {
        double at = (double)(in->first + m) * b->step;
        struct cplx gate = cplx_sub(thrum_baseband_step_at(b, f->step, at - beep->from),
                                    thrum_baseband_step_at(b, f->step, at - beep->to));
        v[m - from] = cplx_mul(gate, turn_at(b, in->first + m, beep->offset_hz, beep->slope_hz_per_s));
    }
    return v != NULL;
}

static int line_reach(const struct thrum_baseband *b, size_t count)
{
    int reach = (int)(BASIS_HZ * WINDOW_STRETCH * (double)count / b->step_hz + 0.5);
    return reach > 12 ? 12 : reach;
}

static bool line_columns(struct thrum_tonefit *f, const struct thrum_fit_input *in,
                         const struct thrum_hum_line *line, struct column *column, double *prior)
{
    const struct thrum_baseband *b = f->baseband;
    int reach = line_reach(b, in->count);
    double window_s = WINDOW_STRETCH * (double)in->count / b->step_hz, sum = 0.0;
    for (int k = -reach; k <= reach; k++) {
        double r = k / window_s / line->width_hz;
        prior[k + reach] = 1.0 / (1.0 + r * r * r * r * r * r);
        sum += prior[k + reach];
    }
    for (int k = -reach; k <= reach; k++) {
        struct cplx *v = take(f, &column[k + reach], 0, in->count);
        if (!v)
            return false;
        for (size_t m = 0; m < in->count; m++)
            v[m] = turn_at(b, in->first + m, line->offset_hz + k / window_s, line->slope_hz_per_s);
        prior[k + reach] *= line->power / sum;
    }
    return true;
}

static void normal_equations(struct thrum_tonefit *f, const struct thrum_fit_input *in, int n, const double *prior)
{
    for (int i = 0; i < n; i++) {
        const struct column *a = &f->column[i];
        for (int j = 0; j <= i; j++) {
            const struct column *c = &f->column[j];
            size_t from = a->from > c->from ? a->from : c->from, to = a->to < c->to ? a->to : c->to;
            struct cplx sum = {0.0, 0.0};
            for (size_t m = from; m < to; m++)
                sum = cplx_add(sum, cplx_mul_conj(a->v[m - a->from], c->v[m - c->from]));
            f->matrix[i * STRIDE + j] = sum;
        }
        struct cplx sum = {0.0, 0.0};
        for (size_t m = a->from; m < a->to; m++)
            sum = cplx_add(sum, cplx_mul_conj(a->v[m - a->from], in->z[m]));
        f->rhs[i] = sum;
        if (i >= in->n_beeps)
            f->matrix[i * STRIDE + i].re += in->noise / fmax(prior[i - in->n_beeps], 1e-30);
        else
            f->matrix[i * STRIDE + i].re += 1e-9; /* a beep outside the samples: amplitude 0, not a failure */
    }
}

/* Rows of the inverse that belong to beeps. */
static void beep_covariance(struct thrum_tonefit *f, int n, int n_beeps)
{
    struct cplx unit[THRUM_TONEFIT_UNKNOWNS];
    for (int i = 0; i < n_beeps; i++) {
        memset(unit, 0, sizeof unit);
        unit[i].re = 1.0;
        thrum_solve_forward(f->matrix, n, STRIDE, unit);
        thrum_solve_back(f->matrix, n, STRIDE, unit);
        for (int j = 0; j < n_beeps; j++)
            f->inverse[j * THRUM_TONEFIT_BEEPS + i] = unit[j];
    }
}

static void subtract(struct cplx *from, const struct column *column, struct cplx amplitude)
{
    for (size_t m = column->from; m < column->to; m++)
        from[m] = cplx_sub(from[m], cplx_mul(amplitude, column->v[m - column->from]));
}

enum thrum_status thrum_tonefit_run(struct thrum_tonefit *fit, const struct thrum_fit_input *in,
                                    struct thrum_fit_output *out)
{
    double prior[THRUM_TONEFIT_UNKNOWNS];
    int per_line = 2 * line_reach(fit->baseband, in->count) + 1, n = in->n_beeps + in->n_lines * per_line;
    if (in->n_beeps > THRUM_TONEFIT_BEEPS || in->n_lines > THRUM_TONEFIT_LINES || in->count > fit->count_max)
        return THRUM_ERR_ARG;
    fit->stored = 0;
    fit->step_offset_hz = 1e9;
    for (int i = 0; i < in->n_beeps; i++)
        if (!beep_column(fit, in, &in->beeps[i], &fit->column[i]))
            return THRUM_ERR_ARG;
    for (int l = 0; l < in->n_lines; l++)
        if (!line_columns(fit, in, &in->lines[l], &fit->column[in->n_beeps + l * per_line], &prior[l * per_line]))
            return THRUM_ERR_ARG;
    normal_equations(fit, in, n, prior);
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
    *out = (struct thrum_fit_output){.amplitude = fit->rhs, .covariance = fit->inverse,
                                     .stride = THRUM_TONEFIT_BEEPS, .residual = fit->residual,
                                     .no_hum = fit->no_hum};
    return THRUM_OK;
}
