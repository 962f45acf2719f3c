#include "noise_floor.h"

#include <fftw3.h>
#include <math.h>
#include <stdlib.h>

#include "check.h"
#include "thrum/units.h"

#define REACH_HZ 40.0

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

double noise_density(const float *x, size_t n, double rate_hz, double hz)
{
    double *in = fftw_alloc_real(n), window = 0.0;
    fftw_complex *out = fftw_alloc_complex(n / 2 + 1);
    assert_non_null(in);
    assert_non_null(out);
    fftw_plan plan = fftw_plan_dft_r2c_1d((int)n, in, out, FFTW_ESTIMATE);
    for (size_t i = 0; i < n; i++) {
        double w = 0.5 - 0.5 * cos(2.0 * THRUM_PI * (double)i / (double)n);
        in[i] = w * (double)x[i];
        window += w * w;
    }
    fftw_execute(plan);
    size_t from = (size_t)((hz - REACH_HZ) * (double)n / rate_hz),
           bins = (size_t)(2.0 * REACH_HZ * (double)n / rate_hz);
    double *power = calloc(bins, sizeof *power);
    assert_non_null(power);
    for (size_t i = 0; i < bins; i++) /* of both sides; a full-scale sine has a mean square of a half */
        power[i] = 4.0 * (out[from + i][0] * out[from + i][0] + out[from + i][1] * out[from + i][1]) /
                   window / rate_hz;
    qsort(power, bins, sizeof *power, by_size);
    double density = power[bins / 2] / log(2.0);
    free(power);
    fftw_destroy_plan(plan);
    fftw_free(in);
    fftw_free(out);
    return density;
}

double cramer_rao_db(double dbfs, double on_s, double density)
{
    return 8.686 / sqrt(thrum_power_from_db(dbfs) * on_s / density);
}
