#include "signal/lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/room.h"
#include "signal/window.h"
#include "thrum/units.h"

#define PROMINENCE 4.0f /* power over the quiet quarter of the bins around */

static double square(double x)
{
    return x * x;
}

enum thrum_status thrum_lines_create(double rate_hz, double frame_s, double top_hz, int max_frames,
                                     struct thrum_lines **lines)
{
    *lines = NULL;
    int frame = thrum_spectrum_good_size((int)lrint(rate_hz * frame_s));
    while (frame % 4)
        frame = thrum_spectrum_good_size(frame + 1);
    struct thrum_lines *c = calloc(1, sizeof *c);
    if (!c)
        return THRUM_ERR_MEM;
    c->rate_hz = rate_hz;
    c->frame = frame;
    c->hop = frame / 2;
    c->bin_hz = rate_hz / frame;
    c->hop_s = c->hop / rate_hz;
    c->max_frames = max_frames;
    int top = (int)(fmin(0.48 * rate_hz, top_hz) / c->bin_hz);
    c->bins = (top + 4) & ~3;
    size_t n = (size_t)frame, bins = (size_t)c->bins, frames = (size_t)max_frames;
    c->window = calloc(n, sizeof *c->window);
    c->block = calloc(n, sizeof *c->block);
    c->half = calloc(n / 2 + 1, sizeof *c->half);
    c->re = thrum_room(frames * bins * sizeof *c->re);
    c->im = thrum_room(frames * bins * sizeof *c->im);
    c->power = calloc(bins, sizeof *c->power);
    c->step_re = calloc(bins, sizeof *c->step_re);
    c->step_im = calloc(bins, sizeof *c->step_im);
    c->pair = calloc(bins, sizeof *c->pair);
    enum thrum_status status = thrum_spectrum_create(frame, &c->spectrum);
    if (status || !c->window || !c->block || !c->half || !c->re || !c->im || !c->power || !c->step_re ||
        !c->step_im || !c->pair)
        goto fail;
    thrum_window_fill(THRUM_WINDOW_HANN, true, c->window, frame);
    for (int i = 0; i < 64; i++)
        c->response[i] = thrum_window_hann_response(frame, i / 63.0);
    *lines = c;
    return THRUM_OK;
fail:
    thrum_lines_destroy(c);
    return status ? status : THRUM_ERR_MEM;
}

void thrum_lines_destroy(struct thrum_lines *lines)
{
    if (!lines)
        return;
    thrum_spectrum_destroy(lines->spectrum);
    free(lines->window);
    free(lines->block);
    free(lines->half);
    free(lines->re);
    free(lines->im);
    free(lines->power);
    free(lines->step_re);
    free(lines->step_im);
    free(lines->pair);
    free(lines);
}

void thrum_lines_clear(struct thrum_lines *lines)
{
    lines->count = 0;
    lines->next = 0;
}

void thrum_lines_push(struct thrum_lines *lines, const float *x)
{
    for (int i = 0; i < lines->frame; i++)
        lines->block[i] = x[i] * lines->window[i];
    thrum_spectrum_forward(lines->spectrum, lines->block, lines->half);
    float *re = lines->re + (size_t)lines->next * (size_t)lines->bins;
    float *im = lines->im + (size_t)lines->next * (size_t)lines->bins;
    for (int k = 0; k < lines->bins; k++) {
        re[k] = lines->half[k].re;
        im[k] = lines->half[k].im;
    }
    lines->next = (lines->next + 1) % lines->max_frames;
    if (lines->count < lines->max_frames)
        lines->count++;
}

size_t thrum_lines_at(const struct thrum_lines *lines, int t)
{
    int from = (lines->next - lines->count + lines->max_frames) % lines->max_frames;
    return (size_t)((from + t) % lines->max_frames) * (size_t)lines->bins;
}

void thrum_lines_sum(struct thrum_lines *lines)
{
    int bins = lines->bins;
    float *restrict power = lines->power, *restrict step_re = lines->step_re,
                    *restrict step_im = lines->step_im;
    memset(power, 0, (size_t)bins * sizeof *power);
    memset(step_re, 0, (size_t)bins * sizeof *step_re);
    memset(step_im, 0, (size_t)bins * sizeof *step_im);
    for (int t = 0; t < lines->count; t++) {
        const float *restrict re = lines->re + thrum_lines_at(lines, t), *restrict im =
                                                                             lines->im +
                                                                             thrum_lines_at(lines, t);
        for (int k = 0; k < bins; k++)
            power[k] += re[k] * re[k] + im[k] * im[k];
        if (t == 0)
            continue;
        const float *restrict was_re = lines->re + thrum_lines_at(lines, t - 1), *restrict was_im =
                                                                                     lines->im +
                                                                                     thrum_lines_at(lines,
                                                                                                    t - 1);
        for (int k = 0; k < bins; k++) {
            step_re[k] += re[k] * was_re[k] + im[k] * was_im[k];
            step_im[k] += im[k] * was_re[k] - re[k] * was_im[k];
        }
    }
    const float *first_re = lines->re + thrum_lines_at(lines, 0),
                *first_im = lines->im + thrum_lines_at(lines, 0);
    const float *last_re = lines->re + thrum_lines_at(lines, lines->count - 1),
                *last_im = lines->im + thrum_lines_at(lines, lines->count - 1);
    for (int k = 0; k < bins; k++)
        lines->pair[k] = power[k] - 0.5f * (first_re[k] * first_re[k] + first_im[k] * first_im[k] +
                                            last_re[k] * last_re[k] + last_im[k] * last_im[k]);
    double total = 0.0;
    for (int k = 1; k < bins; k++)
        total += (double)power[k];
    /* a sine of power p leaves p (n / 4)^2 2 * 1.5 over the bins of its main lobe */
    lines->total = total / lines->count / (square(lines->frame / 4.0) * 3.0);
}

double thrum_lines_steadiness(const struct thrum_lines *lines, int k)
{
    double pair = (double)lines->pair[k];
    if (!(pair > 0.0))
        return 0.0;
    return fmin(hypot((double)lines->step_re[k], (double)lines->step_im[k]) / pair, 1.0);
}

double thrum_lines_evidence(const struct thrum_lines *lines, double steadiness_squared)
{
    return -0.8 * (lines->count - 1) * log(fmax(1.0 - steadiness_squared, 1e-4));
}

double thrum_lines_steady(const struct thrum_lines *lines, int k)
{
    double pair = (double)lines->pair[k];
    if (!(pair > 0.0))
        return 0.0;
    double steady = square((double)lines->step_re[k]) + square((double)lines->step_im[k]);
    return thrum_lines_evidence(lines, fmin(steady / square(pair), 1.0));
}

bool thrum_lines_is_avoided(const struct thrum_lines_tones *tones, double hz)
{
    for (int i = 0; i < tones->n; i++)
        if (fabs(tones->hz[i] - hz) < THRUM_LINES_AVOID_HZ)
            return true;
    return false;
}

bool thrum_lines_prominent(const struct thrum_lines *lines, int k)
{
    float limit = lines->power[k] / PROMINENCE;
    int n = 0, below = 0;
    for (int d = 3; d <= 7; d++)
        for (int at = k - d; at <= k + d; at += 2 * d)
            if (at > 0 && at < lines->bins) {
                n++;
                below += lines->power[at] < limit;
            }
    return below > n / 4; /* the value in that place, were they sorted, is below */
}

double thrum_lines_hz(const struct thrum_lines *lines, int k)
{
    double turn = atan2((double)lines->step_im[k], (double)lines->step_re[k]) / THRUM_PI - (k % 2);
    return (k + turn - 2.0 * nearbyint(turn / 2.0)) * lines->bin_hz;
}

double thrum_lines_variance(const struct thrum_lines *lines, int k)
{
    double g = fmax(thrum_lines_steadiness(lines, k), 0.01);
    double noise = (1.0 - g * g) / (2.0 * g * g * (lines->count - 1));
    return noise / square(2.0 * THRUM_PI * lines->hop_s) + square(0.02);
}
