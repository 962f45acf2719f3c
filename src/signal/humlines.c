#include "signal/humlines.h"

#include <math.h>
#include <string.h>

#define MOST_ALONE 6
/* Slow change of a hum line: mains wander times the harmonic's number, wobble of the hand */
#define LINE_WIDTH_HZ 0.5

/* Loud ones first: what they leave is no longer in the way of the hum lines beside them. */
static int list_alone(const struct thrum_baseband *baseband, const struct thrum_hum_source *hum, int n_hum,
                      struct thrum_hum_line *lines)
{
    int n = 0;
    for (int i = 0; i < n_hum && n < MOST_ALONE; i++) {
        double offset = hum[i].hz - baseband->centre_hz;
        if (hum[i].alone && fabs(offset) > THRUM_NEAR_HZ && fabs(offset) <= baseband->stop_hz)
            lines[n++] = (struct thrum_hum_line){offset, 0.0, 1.0, LINE_WIDTH_HZ, 0.0};
    }
    return n;
}

int thrum_humlines_list(const struct thrum_baseband *baseband, const struct thrum_hum_source *hum, int n_hum,
                        double middle_s, struct thrum_hum_line *lines)
{
    double low = baseband->centre_hz - baseband->stop_hz, high = baseband->centre_hz + baseband->stop_hz;
    int n = list_alone(baseband, hum, n_hum, lines);
    for (int i = 0; i < n_hum && !hum[i].alone; i++)
        for (int h = (int)fmax(ceil(low / hum[i].hz), 1.0); h * hum[i].hz <= high && n < THRUM_HUMLINES_MAX;
             h++) {
            double at_zero = h * (hum[i].hz - hum[i].slope_hz_per_s * middle_s);
            lines[n++] = (struct thrum_hum_line){at_zero - baseband->centre_hz, h * hum[i].slope_hz_per_s,
                                                 1.0, LINE_WIDTH_HZ, h * hum[i].wander_hz};
        }
    return n;
}

size_t thrum_fit_parts(const struct thrum_baseband *baseband, size_t count)
{
    double seconds = (double)count / baseband->step_hz;
    return seconds <= THRUM_FIT_PART_MOST * baseband->part_s ? 1 : (size_t)ceil(seconds / baseband->part_s);
}

size_t thrum_fit_part_max(const struct thrum_baseband *baseband)
{
    return (size_t)(THRUM_FIT_PART_MOST * baseband->part_s * baseband->step_hz) + 2;
}

struct thrum_fit_input thrum_fit_part(const struct thrum_baseband *baseband, const struct cplx *z,
                                      size_t first, size_t count, size_t i)
{
    size_t n = thrum_fit_parts(baseband, count), from = i * count / n, to = (i + 1) * count / n;
    return (struct thrum_fit_input){.z = z + from, .first = first + from, .count = to - from, .noise = 1e-30};
}

double thrum_humlines_take_out(struct thrum_tonefit *fit, const struct thrum_baseband *baseband,
                               const struct thrum_hum_line *line, const struct cplx *from, size_t first,
                               size_t count, struct cplx *to)
{
    double power = 0.0;
    for (size_t i = 0; i < thrum_fit_parts(baseband, count); i++) {
        struct thrum_fit_input in = thrum_fit_part(baseband, from, first, count, i);
        struct thrum_fit_output out;
        size_t at = in.first - first;
        in.lines = line;
        in.n_lines = 1;
        if (thrum_tonefit_run(fit, &in, &out)) {
            memmove(to + at, in.z, in.count * sizeof *to);
            continue;
        }
        for (size_t s = 0; s < in.count; s++)
            power += cplx_power(cplx_sub(in.z[s], out.no_hum[s]));
        memmove(to + at, out.no_hum, in.count * sizeof *to);
    }
    return power / (double)count;
}

double thrum_humlines_taken(const struct thrum_baseband *baseband, const struct thrum_hum_line *lines, int n,
                            size_t count)
{
    size_t parts = thrum_fit_parts(baseband, count);
    double of_one = (double)thrum_tonefit_line_unknowns(baseband, count / parts), taken = 0.0;
    double width_hz = of_one * baseband->step_hz * (double)parts / (double)count;
    for (int i = 0; i < n; i++) {
        double alone = 1.0;
        for (int k = 0; k < i; k++)
            alone = fmin(alone, fabs(lines[i].offset_hz - lines[k].offset_hz) / width_hz);
        taken += alone * of_one * (double)parts * thrum_baseband_noise(baseband, lines[i].offset_hz);
    }
    return taken;
}
