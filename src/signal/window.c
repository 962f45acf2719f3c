#include "signal/window.h"

#include <math.h>

#include "base/wide.h"
#include "signal/cplx.h"
#include "thrum/units.h"

enum { LANES = 4 };

void thrum_window_fill(enum thrum_window kind, bool periodic, float *w, int n)
{
    /* sums of cosines; Blackman-Harris 4-term minimum: .35875 .48829 .14128 .01168 */
    static const double hann[4] = {0.5, 0.5, 0.0, 0.0};
    static const double blackman_harris[4] = {0.35875, 0.48829, 0.14128, 0.01168};
    const double *a = kind == THRUM_WINDOW_HANN ? hann : blackman_harris;
    double step = 2.0 * THRUM_PI / (periodic ? n : n - 1);
    for (int i = 0; i < n; i++) {
        double t = step * i, value = a[0] - a[1] * cos(t);
        if (kind != THRUM_WINDOW_HANN)
            value = value + a[2] * cos(2.0 * t) - a[3] * cos(3.0 * t);
        w[i] = (float)value;
    }
}

double thrum_window_coherent_gain(const float *w, int n)
{
    double sum = 0.0;
    for (int i = 0; i < n; i++)
        sum += (double)w[i];
    return sum / n;
}

double thrum_window_enbw_bins(const float *w, int n)
{
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < n; i++) {
        sum += (double)w[i];
        squares += (double)w[i] * (double)w[i];
    }
    return n * squares / (sum * sum);
}

/* The window is three turnings, each of which adds up to a ratio of sines. */
double thrum_window_hann_response(int n, double offset_bins)
{
    double unit = THRUM_PI / n, at = fabs(offset_bins);
    if (!(at > 0.0) || at == 1.0)
        return at > 0.0 ? 0.5 : 1.0;
    double middle = 1.0 / sin(unit * at), above = 1.0 / sin(unit * (at + 1.0)),
           below = 1.0 / sin(unit * (at - 1.0));
    double re = 0.5 * middle - 0.25 * cos(unit) * (above + below), im = 0.25 * sin(unit) * (above - below);
    double sine = sin(THRUM_PI * (at > 0.5 ? 1.0 - at : at)); /* as exact as the ratio to it, near 1 */
    return fabs(sine) * sqrt(re * re + im * im) / (0.5 * n);
}

/* LANES turnings side by side, so that none waits for the one before. */
THRUM_WIDE double thrum_window_response(const float *w, int n, double offset_bins)
{
    double angle = 2.0 * THRUM_PI * offset_bins / n, sum = 0.0;
    struct cplx step = cplx_turn(LANES * angle), now[LANES], turned[LANES] = {{0.0, 0.0}};
    int i = 0;
    for (int k = 0; k < LANES; k++)
        now[k] = cplx_turn(k * angle);
    for (; i + LANES <= n; i += LANES)
        for (int k = 0; k < LANES; k++) {
            turned[k] = cplx_add(turned[k], cplx_scale(now[k], (double)w[i + k]));
            now[k] = cplx_mul(now[k], step);
            sum += (double)w[i + k];
        }
    for (int k = 0; i < n; i++, k++) {
        turned[k] = cplx_add(turned[k], cplx_scale(now[k], (double)w[i]));
        sum += (double)w[i];
    }
    for (int k = 1; k < LANES; k++)
        turned[0] = cplx_add(turned[0], turned[k]);
    return sqrt(cplx_power(turned[0])) / sum;
}
