/* A sine comes out with its level and nothing beside it. Checked by the discrete Fourier sum at single frequencies. */
#include "check.h"
#include "signal/upsample.h"
#include "thrum/units.h"

#define N 48000

static void play(double from_hz, double to_hz, double hz, float *out)
{
    struct thrum_upsample *u;
    double n = 0.0;
    assert_int_equal(thrum_upsample_create(from_hz, to_hz, &u), THRUM_OK);
    for (int i = -4000; i < N; i++) { /* what comes before is past the beginning */
        while (thrum_upsample_wants(u)) {
            thrum_upsample_push(u, (float)(0.5 * sin(2.0 * THRUM_PI * hz * n / from_hz)));
            n += 1.0;
        }
        float x = thrum_upsample_next(u);
        if (i >= 0)
            out[i] = x;
    }
    thrum_upsample_destroy(u);
}

/* Hann-weighted, so that neighbours do not leak. */
static double amplitude(const float *x, double hz, double rate_hz)
{
    double re = 0.0, im = 0.0;
    for (int i = 0; i < N; i++) {
        double phase = 2.0 * THRUM_PI * hz * i / rate_hz, w = 1.0 - cos(2.0 * THRUM_PI * i / N);
        re += w * (double)x[i] * cos(phase);
        im += w * (double)x[i] * sin(phase);
    }
    return 2.0 * hypot(re, im) / N;
}

static void levels_are_kept_and_images_are_down(void **state)
{
    (void)state;
    static const struct {
        double from_hz, to_hz;
    } rates[] = {
        {8000.0, 48000.0}, {8820.0, 44100.0}, {8820.0, 48000.0}, {8000.0, 44100.0}, {11025.0, 96000.0}};
    static const double share[] = {0.0125, 0.06, 0.13, 0.25, 0.375, 0.425};
    static float out[N];
    for (size_t r = 0; r < sizeof rates / sizeof *rates; r++) {
        for (size_t s = 0; s < sizeof share / sizeof *share; s++) {
            double hz = share[s] * rates[r].from_hz;
            play(rates[r].from_hz, rates[r].to_hz, hz, out);
            assert_close(20.0 * log10(amplitude(out, hz, rates[r].to_hz) / 0.5), 0.0, 0.1);
            for (int image = 1; image * rates[r].from_hz + hz < rates[r].to_hz / 2.0; image++) {
                double at = image * rates[r].from_hz;
                assert_true(20.0 * log10(amplitude(out, at - hz, rates[r].to_hz) / 0.5) < -55.0);
                assert_true(20.0 * log10(amplitude(out, at + hz, rates[r].to_hz) / 0.5) < -55.0);
            }
        }
    }
}

static void equal_rates_and_silence_pass(void **state)
{
    (void)state;
    static float out[N];
    play(8000.0, 8000.0, 1000.0, out);
    assert_close(amplitude(out, 1000.0, 8000.0), 0.5, 0.005);
    play(8000.0, 48000.0, 0.0, out);
    for (int i = 0; i < N; i++)
        assert_close(out[i], 0.0, 0.0);
}

static void impossible_rates_are_refused(void **state)
{
    (void)state;
    struct thrum_upsample *u;
    assert_int_equal(thrum_upsample_create(0.0, 48000.0, &u), THRUM_ERR_ARG);
    assert_int_equal(thrum_upsample_create((double)NAN, 48000.0, &u), THRUM_ERR_ARG);
    assert_int_equal(thrum_upsample_create(8000.0, 3000.0, &u), THRUM_ERR_ARG);
    assert_int_equal(thrum_upsample_create(8000.0, (double)INFINITY, &u), THRUM_ERR_ARG);
    assert_null(u);
    thrum_upsample_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels_are_kept_and_images_are_down),
        cmocka_unit_test(equal_rates_and_silence_pass),
        cmocka_unit_test(impossible_rates_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
