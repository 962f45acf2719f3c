#include "processing.h"

#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"

void apply_level_control(float *x, size_t n, double rate_hz, const struct level_control *control)
{
    double attack = 1.0 - exp(-1.0 / (control->attack_s * rate_hz));
    double release = 1.0 - exp(-1.0 / (control->release_s * rate_hz));
    double power = n > 0 ? (double)x[0] * (double)x[0] : 0.0;
    size_t settle = (size_t)(2.0 * control->release_s * rate_hz);
    /* it was on before: let it settle on the beginning first */
    for (size_t i = 0; i < settle && n > 0; i++) {
        double p = (double)x[i % n] * (double)x[i % n];
        power += (p > power ? attack : release) * (p - power);
    }
    for (size_t i = 0; i < n; i++) {
        double p = (double)x[i] * (double)x[i];
        power += (p > power ? attack : release) * (p - power);
        double level = thrum_db_from_power(2.0 * power);
        double gain_db = (control->target_dbfs - level) * (1.0 - 1.0 / control->ratio);
        gain_db = fmin(gain_db, control->most_gain_db);
        x[i] = (float)((double)x[i] * thrum_amplitude_from_db(gain_db));
    }
}

void apply_noise_gate(float *x, size_t n, double rate_hz, const struct noise_gate *gate)
{
    double attack = 1.0 - exp(-1.0 / (gate->attack_s * rate_hz));
    double release = 1.0 - exp(-1.0 / (gate->release_s * rate_hz));
    double follow = 1.0 - exp(-1.0 / (0.005 * rate_hz)), shut = thrum_amplitude_from_db(gate->floor_db);
    double power = 0.0, open = 1.0, held_s = 0.0;
    for (size_t i = 0; i < n; i++) {
        power += follow * ((double)x[i] * (double)x[i] - power);
        held_s = thrum_db_from_power(2.0 * power) > gate->open_dbfs ? gate->hold_s : held_s - 1.0 / rate_hz;
        double goal = held_s > 0.0 ? 1.0 : shut;
        open += (goal > open ? attack : release) * (goal - open);
        x[i] = (float)((double)x[i] * open);
    }
}

void apply_suppressor(float *x, size_t n, double rate_hz, const struct suppressor *suppressor)
{
    int size = 2 * (int)lrint(0.016 * rate_hz), hop = size / 2, bins = size / 2 + 1;
    double *frame = fftw_malloc((size_t)size * sizeof *frame),
           *window = malloc((size_t)size * sizeof *window);
    double *out = calloc(n + (size_t)size, sizeof *out), *noise = calloc((size_t)bins, sizeof *noise);
    fftw_complex *spectrum = fftw_malloc((size_t)bins * sizeof *spectrum);
    fftw_plan there = fftw_plan_dft_r2c_1d(size, frame, spectrum, FFTW_ESTIMATE);
    fftw_plan back = fftw_plan_dft_c2r_1d(size, spectrum, frame, FFTW_ESTIMATE);
    double follow = 1.0 - exp(-hop / (suppressor->noise_s * rate_hz));
    double over = thrum_power_from_db(suppressor->over_db), least = thrum_power_from_db(suppressor->floor_db);
    for (int i = 0; i < size; i++)
        window[i] = sin(THRUM_PI * (i + 0.5) / size);
    for (size_t at = 0; at + (size_t)size <= n; at += (size_t)hop) {
        for (int i = 0; i < size; i++)
            frame[i] = (double)x[at + (size_t)i] * window[i];
        fftw_execute(there);
        for (int k = 0; k < bins; k++) {
            double p = creal(spectrum[k]) * creal(spectrum[k]) + cimag(spectrum[k]) * cimag(spectrum[k]);
            noise[k] += (at == 0 ? 1.0 : follow) * (p - noise[k]);
            double gain = p > 0.0 ? fmax(1.0 - over * noise[k] / p, least) : 0.0;
            spectrum[k] *= sqrt(gain);
        }
        fftw_execute(back);
        for (int i = 0; i < size; i++)
            out[at + (size_t)i] += frame[i] * window[i] / size;
    }
    for (size_t i = 0; i < n; i++)
        x[i] = (float)out[i];
    fftw_destroy_plan(there);
    fftw_destroy_plan(back);
    fftw_free(frame);
    fftw_free(spectrum);
    free(window);
    free(out);
    free(noise);
}
