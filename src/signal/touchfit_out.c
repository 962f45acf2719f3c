#include <math.h>

#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define LOUDEST  2.0  /* times the mean power: what a beep that was hardly heard is limited to */
#define SWELL_SD 0.05 /* how much of its strength a beep usually gains or loses from its middle to its end */

/* How much of its strength a beep gains from its middle to its end, from what the fit left over: the hand moves while it
 * sounds. Little is believed where the noise could do that too. */
static double swell_of(const struct thrum_fit_input *in, const struct thrum_baseband *b,
                       const struct thrum_fit_beep *beep, struct cplx amplitude, const struct cplx *residual)
{
    double step = b->step, middle = 0.5 * (beep->from + beep->to), half = 0.5 * (beep->to - beep->from);
    double first = fmax(ceil(beep->from / step) - (double)in->first, 0.0);
    double end = fmin(ceil(beep->to / step) - (double)in->first, (double)in->count);
    double along = 0.0, squares = 0.0, power = cplx_power(amplitude);
    for (double m = first; m < end; m += 1.0) {
        double at = ((double)in->first + m) * step, u = at / b->rate_hz - in->about_s;
        double turns = in->offset_hz * u + 0.5 * in->slope_hz_per_s * u * u, w = (at - middle) / half;
        struct cplx tone = cplx_mul(amplitude, cplx_turn(2.0 * THRUM_PI * fmod(turns, 1.0)));
        along += w * (residual[(size_t)m].re * tone.re + residual[(size_t)m].im * tone.im);
        squares += w * w;
    }
    return along / (power * squares + 0.5 * in->noise / (SWELL_SD * SWELL_SD) + 1e-30);
}

/* One beep within [low, high): a cosine whose edges may fall between two samples, and which swells evenly. */
static void add_beep(const struct thrum_fit_input *in, const struct thrum_baseband *b,
                     const struct thrum_fit_beep *beep, struct cplx amplitude, double swell, double low,
                     double high, float *x)
{
    double from = fmax(beep->from, low), to = fmin(beep->to, high);
    if (!(to > from))
        return;
    size_t first = (size_t)from, end = (size_t)ceil(to);
    double dt = 1.0 / b->rate_hz, t = (double)first * dt, u = t - in->about_s, slope = in->slope_hz_per_s;
    double turns = b->centre_hz * t + in->offset_hz * u + 0.5 * slope * u * u;
    double hz = b->centre_hz + in->offset_hz + slope * u;
    struct cplx now = cplx_mul(amplitude, cplx_turn(2.0 * THRUM_PI * fmod(turns, 1.0)));
    struct cplx step = cplx_turn(2.0 * THRUM_PI * (hz * dt + 0.5 * slope * dt * dt));
    struct cplx bend = cplx_turn(2.0 * THRUM_PI * slope * dt * dt);
    for (size_t i = first; i < end; i++) {
        double share = fmin(to, (double)i + 1.0) - fmax(from, (double)i);
        double along = ((double)i - 0.5 * (beep->from + beep->to)) / (0.5 * (beep->to - beep->from));
        x[i] = (float)((double)x[i] + share * (1.0 + swell * along) * now.re);
        now = cplx_mul(now, step);
        step = cplx_mul(step, bend);
    }
}

/* The beeps of one tone in one part. What lies before the first and after the last part belongs to these. */
static void add_part(struct thrum_touchfit *f, int k, size_t part, double sign, float *x, size_t n)
{
    const struct thrum_baseband *b = f->tone[k].baseband;
    struct thrum_fit_beep fit[THRUM_TONEFIT_BEEPS];
    struct thrum_beep beeps[THRUM_TONEFIT_BEEPS];
    struct thrum_fit_input in = thrum_touchfit_part_input(f, &f->result.state, k, part, beeps, fit);
    struct thrum_fit_output out;
    double low = ((double)in.first - 0.5) * b->step, high = ((double)(in.first + in.count) - 0.5) * b->step;
    if (thrum_tonefit_run(f->tone[k].fit, &in, &out))
        return;
    low = part == 0 ? 0.0 : low;
    high = part + 1 == thrum_fit_parts(b, f->count) ? (double)n : fmin(high, (double)n);
    for (int i = 0; i < in.n_beeps; i++) {
        double power = cplx_power(out.amplitude[i]), most = LOUDEST * fmax(f->result.power, 0.0);
        double keep = fit[i].weight > 0.0 || power <= most ? 1.0 : sqrt(most / power);
        double swell = swell_of(&in, b, &fit[i], out.amplitude[i], out.residual);
        add_beep(&in, b, &fit[i], cplx_scale(out.amplitude[i], sign * keep), swell, low, high, x);
    }
}

void thrum_touchfit_add(struct thrum_touchfit *fit, double sign, float *x, size_t n)
{
    for (int k = 0; k < fit->voice.n_tones && fit->result.n_beeps > 0; k++)
        for (size_t i = 0; i < thrum_fit_parts(fit->basebands[0], fit->count); i++)
            add_part(fit, k, i, sign, x, n);
}
