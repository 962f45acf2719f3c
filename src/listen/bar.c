#include "listen/bar.h"

#include <string.h>

#include "thrum/units.h"

struct thrum_bar thrum_bar_start(double rate_hz, double tone_hz)
{
    struct thrum_bar bar = {.turn = {1.0, 0.0}, .step = cplx_turn(-2.0 * THRUM_PI * tone_hz / rate_hz)};
    double sum = 0.0;
    bar.bin_size = (int)(THRUM_BAR_BIN_S * rate_hz + 0.5);
    for (int i = 0; i < THRUM_BAR_BINS; i++) {
        bar.weight[i] = 1.0 - cos(2.0 * THRUM_PI * (i + 0.5) / THRUM_BAR_BINS);
        sum += bar.weight[i];
    }
    for (int i = 0; i < THRUM_BAR_BINS; i++)
        bar.weight[i] *= 2.0 / (sum * bar.bin_size);
    return bar;
}

void thrum_bar_move(struct thrum_bar *bar, double rate_hz, double tone_hz)
{
    bar->step = cplx_turn(-2.0 * THRUM_PI * tone_hz / rate_hz);
}

int thrum_bar_feed(struct thrum_bar *bar, double x)
{
    bar->sum = cplx_add(bar->sum, cplx_scale(bar->turn, x));
    bar->turn = cplx_mul(bar->turn, bar->step);
    if (++bar->in_bin < bar->bin_size)
        return 0;
    memmove(bar->bins + 1, bar->bins, (THRUM_BAR_BINS - 1) * sizeof *bar->bins);
    bar->bins[0] = bar->sum;
    bar->sum = (struct cplx){0.0, 0.0};
    bar->in_bin = 0;
    bar->turn = cplx_scale(bar->turn, 1.0 / sqrt(cplx_power(bar->turn))); /* rounding must not grow */
    struct cplx total = {0.0, 0.0};
    for (int i = 0; i < THRUM_BAR_BINS; i++)
        total = cplx_add(total, cplx_scale(bar->bins[i], bar->weight[i]));
    bar->power = cplx_power(total);
    return 1;
}
