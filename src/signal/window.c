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
        double t = step * i;
        w[i] = (float)(a[0] - a[1] * cos(t) + a[2] * cos(2.0 * t) - a[3] * cos(3.0 * t));
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
