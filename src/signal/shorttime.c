#include "signal/shorttime.h"

#include <math.h>
#include <stdlib.h>

#include "signal/window.h"

enum thrum_status thrum_shorttime_create(double rate_hz, double window_s, double hop_s, double top_hz,
                                         double longest_s, struct thrum_shorttime **shorttime)
{
    *shorttime = NULL;
    struct thrum_shorttime *s = calloc(1, sizeof *s);
    if (!s)
        return THRUM_ERR_MEM;
    s->rate_hz = rate_hz;
    s->size = thrum_spectrum_good_size((int)lrint(rate_hz * window_s));
    s->hop = (int)fmax((double)lrint(rate_hz * hop_s), 1.0);
    s->bin_hz = rate_hz / s->size;
    s->bins = (int)fmin(ceil(top_hz / s->bin_hz) + 2.0, s->size / 2);
    s->max_frames = (int)(rate_hz * longest_s / s->hop) + 2;
    s->power = calloc((size_t)s->max_frames * (size_t)s->bins, sizeof *s->power);
    s->window = calloc((size_t)s->size, sizeof *s->window);
    s->block = calloc((size_t)s->size, sizeof *s->block);
    s->half = calloc((size_t)s->size / 2 + 1, sizeof *s->half);
    enum thrum_status status = thrum_spectrum_create(s->size, &s->spectrum);
    if (!status && (!s->power || !s->window || !s->block || !s->half))
        status = THRUM_ERR_MEM;
    if (status)
        goto fail;
    thrum_window_fill(THRUM_WINDOW_HANN, true, s->window, s->size);
    *shorttime = s;
    return THRUM_OK;
fail:
    thrum_shorttime_destroy(s);
    return status;
}

void thrum_shorttime_destroy(struct thrum_shorttime *shorttime)
{
    if (!shorttime)
        return;
    thrum_spectrum_destroy(shorttime->spectrum);
    free(shorttime->power);
    free(shorttime->window);
    free(shorttime->block);
    free(shorttime->half);
    free(shorttime);
}

void thrum_shorttime_run(struct thrum_shorttime *shorttime, const float *x, size_t n)
{
    struct thrum_shorttime *s = shorttime;
    float scale = (float)(16.0 / ((double)s->size * s->size)); /* (a N / 4)^2 -> a^2 */
    size_t size = (size_t)s->size, hop = (size_t)s->hop;
    s->frames = n < size ? 0 : (int)fmin((double)((n - size) / hop) + 1.0, s->max_frames);
    for (int t = 0; t < s->frames; t++) {
        float *power = s->power + (size_t)t * (size_t)s->bins;
        for (int i = 0; i < s->size; i++)
            s->block[i] = x[(size_t)t * hop + (size_t)i] * s->window[i];
        thrum_spectrum_forward(s->spectrum, s->block, s->half);
        for (int k = 0; k < s->bins; k++)
            power[k] = scale * (s->half[k].re * s->half[k].re + s->half[k].im * s->half[k].im);
    }
}

double thrum_shorttime_at_s(const struct thrum_shorttime *shorttime, double t)
{
    return (0.5 * shorttime->size + t * shorttime->hop) / shorttime->rate_hz;
}

double thrum_shorttime_line(const struct thrum_shorttime *shorttime, int t, int k)
{
    const float *p = shorttime->power + (size_t)t * (size_t)shorttime->bins;
    int low = k > 0 ? k - 1 : k, high = k + 1 < shorttime->bins ? k + 1 : k;
    /* a Hann window spreads 1, 1/4, 1/4 of a line on a bin */
    return ((double)p[low] + (double)p[k] + (double)p[high]) / 1.5;
}
