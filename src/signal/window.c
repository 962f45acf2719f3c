#include "signal/window.h"

#include <math.h>

#include "signal/cplx.h"
#include "thrum/units.h"

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

double thrum_window_response(const float *w, int n, double offset_bins)
{
    struct cplx now = {1.0, 0.0}, step = cplx_turn(2.0 * THRUM_PI * offset_bins / n), turned = {0.0, 0.0};
    double sum = 0.0;
    for (int i = 0; i < n; i++) {
        turned = cplx_add(turned, cplx_scale(now, (double)w[i]));
        now = cplx_mul(now, step);
        sum += (double)w[i];
    }
    return sqrt(cplx_power(turned)) / sum;
}
