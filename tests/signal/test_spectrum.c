/* The transform: exact small vectors, FFTW as an outside reference, Parseval, sizes refused. */
#include "check.h"

#include <complex.h>
#include <fftw3.h>
#include <stdlib.h>

#include "signal/spectrum.h"
#include "signals.h"
#include "thrum/units.h"

enum { BINS_MAX = 4096 };

static void transform(const float *x, int n, struct thrum_bin *bins)
{
    struct thrum_spectrum *s;
    assert_int_equal(thrum_spectrum_create(n, &s), THRUM_OK);
    assert_int_equal(thrum_spectrum_size(s), n);
    thrum_spectrum_forward(s, x, bins);
    thrum_spectrum_destroy(s);
}

static void check_bins(const float *x, int n, const double (*expected)[2], double tolerance)
{
    struct thrum_bin bins[5];
    transform(x, n, bins);
    for (int k = 0; k <= n / 2; k++) {
        assert_close(bins[k].re, expected[k][0], tolerance);
        assert_close(bins[k].im, expected[k][1], tolerance);
    }
}

static void spectrum_gives_the_exact_small_vectors(void **state)
{
    (void)state;
    /* computed: X[k] = sum x[n] exp(-j 2 pi k n / N), exact */
    const double r2 = sqrt(2.0);
    const float box[8] = {1, 1, 1, 1, 0, 0, 0, 0};
    const double box_bins[5][2] = {{4, 0}, {1, -(1 + r2)}, {0, 0}, {1, -(r2 - 1)}, {0, 0}};
    check_bins(box, 8, box_bins, 1e-6);

    float lyons[8]; /* Lyons, Understanding DSP, ch. 3, example 1, from memory; and computed */
    for (int n = 0; n < 8; n++)
        lyons[n] =
            (float)(sin(2 * THRUM_PI * n / 8) + 0.5 * sin(2 * THRUM_PI * 2 * n / 8 + 3 * THRUM_PI / 4));
    const double lyons_bins[5][2] = {{0, 0}, {0, -4}, {1.41421356, 1.41421356}, {0, 0}, {0, 0}};
    check_bins(lyons, 8, lyons_bins, 2e-6);
    const float printed[8] = {.3536f, .3536f, .6464f, 1.0607f, .3536f, -1.0607f, -1.3536f, -.3536f};
    for (int n = 0; n < 8; n++)
        assert_close(lyons[n], printed[n], 0.6e-4);

    const float ramp[4] = {1, 2, 3, 4}, one[4] = {1, 0, 0, 0}, mixed[4] = {2, 3, -1, 4};
    const double ramp_bins[3][2] = {{10, 0}, {-2, 2}, {-2, 0}};
    const double one_bins[3][2] = {{1, 0}, {1, 0}, {1, 0}};
    const double mixed_bins[3][2] = {{8, 0}, {3, 1}, {-6, 0}};
    check_bins(ramp, 4, ramp_bins, 1e-6);
    check_bins(one, 4, one_bins, 1e-6);
    check_bins(mixed, 4, mixed_bins, 1e-6);
}

static void spectrum_keeps_energy(void **state)
{
    (void)state;
    const float ramp[4] = {1, 2, 3, 4}; /* Parseval on 1 2 3 4: 30, computed */
    struct thrum_bin b[BINS_MAX];
    transform(ramp, 4, b);
    double sum = pow(hypot((double)b[0].re, (double)b[0].im), 2) +
                 pow(hypot((double)b[2].re, (double)b[2].im), 2) +
                 2 * pow(hypot((double)b[1].re, (double)b[1].im), 2);
    assert_close(sum / 4, 30.0, 1e-5);

    enum { N = 4800 };
    float *x = calloc(N, sizeof *x);
    assert_non_null(x);
    struct rng rng = rng_seeded(1);
    add_noise(&rng, x, N, 1.0);
    transform(x, N, b);
    double time = 0.0, bins = 0.0;
    for (int i = 0; i < N; i++)
        time += (double)x[i] * (double)x[i];
    for (int k = 0; k <= N / 2; k++)
        bins += (k == 0 || k == N / 2 ? 1.0 : 2.0) *
                ((double)b[k].re * (double)b[k].re + (double)b[k].im * (double)b[k].im);
    assert_close(bins / N / time, 1.0, 1e-5);
    free(x);
}

static void spectrum_agrees_with_fftw(void **state)
{
    (void)state;
    const int sizes[] = {4, 6, 10, 30, 256, 480, 1000, 1440, 3200, 4096, 4800, 6000};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        int n = sizes[i];
        float *x = calloc((size_t)n, sizeof *x);
        double *xd = fftw_malloc((size_t)n * sizeof *xd);
        fftw_complex *out = fftw_malloc(((size_t)n / 2 + 1) * sizeof *out);
        assert_non_null(x);
        fftw_plan plan = fftw_plan_dft_r2c_1d(n, xd, out, FFTW_ESTIMATE);
        struct rng rng = rng_seeded(100 + (uint64_t)n);
        add_noise(&rng, x, (size_t)n, 0.3);
        for (int k = 0; k < n; k++)
            xd[k] = (double)x[k];
        fftw_execute(plan);
        struct thrum_bin bins[BINS_MAX];
        transform(x, n, bins);
        /* float rounding: well under 1e-6 of the size of the bins, which is about 0.3 sqrt(n) */
        for (int k = 0; k <= n / 2; k++) {
            assert_close(bins[k].re, creal(out[k]), 2e-6 * sqrt((double)n));
            assert_close(bins[k].im, cimag(out[k]), 2e-6 * sqrt((double)n));
        }
        fftw_destroy_plan(plan);
        fftw_free(xd);
        fftw_free(out);
        free(x);
    }
}

static void spectrum_comes_back_to_the_samples(void **state)
{
    (void)state;
    enum { N = 960 };
    float x[N] = {0}, y[N];
    struct thrum_bin bins[N / 2 + 1];
    struct rng rng = rng_seeded(3);
    add_noise(&rng, x, N, 0.5);
    struct thrum_spectrum *s;
    assert_int_equal(thrum_spectrum_create(N, &s), THRUM_OK);
    thrum_spectrum_forward(s, x, bins);
    thrum_spectrum_inverse(s, bins, y);
    for (int i = 0; i < N; i++)
        assert_close(y[i], x[i], 1e-6);
    thrum_spectrum_destroy(s);
}

static void spectrum_reads_the_same_level_at_two_sizes(void **state)
{
    (void)state;
    const int sizes[] = {1000, 4800};
    for (int i = 0; i < 2; i++) {
        int n = sizes[i];
        float x[4800];
        struct thrum_bin bins[BINS_MAX];
        for (int t = 0; t < n; t++)
            x[t] = (float)(0.5 * sin(2 * THRUM_PI * 37 * t / n + 0.3));
        transform(x, n, bins);
        assert_close(hypot((double)bins[37].re, (double)bins[37].im) * 2.0 / n, 0.5, 1e-5);
    }
}

/* IEC 61000-4-7:2002, 200 ms at 50 Hz, rectangular: subgroup 5 is the RMS over bins 24 to 26, group 5 that over 20 to 30
   with the outer two halved (group: from memory). Worked (computed): 230 V at 50 Hz, 5 at 250, 2 at 255, 1 at 275 give
   sqrt 29 and sqrt 29.5 V. */
static void spectrum_gives_the_worked_harmonic_groups(void **state)
{
    (void)state;
    enum { N = 1600, RATE = 8000 };
    static float x[N];
    static struct thrum_bin bins[N / 2 + 1];
    const double parts[][2] = {{50, 230}, {250, 5}, {255, 2}, {275, 1}};
    for (int i = 0; i < N; i++)
        for (int p = 0; p < 4; p++)
            x[i] += (float)(parts[p][1] * sqrt(2.0) * cos(2 * THRUM_PI * parts[p][0] * i / RATE + p));
    transform(x, N, bins);
    double subgroup = 0.0, group = 0.0;
    for (int k = 45; k <= 55; k++) {
        double re = (double)bins[k].re, im = (double)bins[k].im, square = 2.0 * (re * re + im * im) / N / N;
        subgroup += k >= 49 && k <= 51 ? square : 0.0;
        group += k == 45 || k == 55 ? 0.5 * square : square;
    }
    assert_close(sqrt(subgroup), 5.38516, 1e-4);
    assert_close(sqrt(group), 5.43139, 1e-4);
}

static void spectrum_refuses_sizes_the_transform_is_bad_at(void **state)
{
    (void)state;
    const int bad[] = {-4, 0, 1, 2, 3, 5, 7, 14, 98, 896, 1023, 4410, 4802, THRUM_SPECTRUM_MAX * 2};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct thrum_spectrum *s = (struct thrum_spectrum *)&s;
        assert_int_equal(thrum_spectrum_create(bad[i], &s), THRUM_ERR_ARG);
        assert_null(s);
    }
    assert_int_equal(thrum_spectrum_good_size(-5), 4);
    assert_int_equal(thrum_spectrum_good_size(98), 100);
    assert_int_equal(thrum_spectrum_good_size(1023), 1024);
    assert_int_equal(thrum_spectrum_good_size(4410), 4500);
    assert_int_equal(thrum_spectrum_good_size(4800), 4800);
    assert_int_equal(thrum_spectrum_good_size(THRUM_SPECTRUM_MAX), THRUM_SPECTRUM_MAX);
    assert_int_equal(thrum_spectrum_good_size(THRUM_SPECTRUM_MAX + 1), 0);
    thrum_spectrum_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spectrum_gives_the_exact_small_vectors),
        cmocka_unit_test(spectrum_keeps_energy),
        cmocka_unit_test(spectrum_agrees_with_fftw),
        cmocka_unit_test(spectrum_comes_back_to_the_samples),
        cmocka_unit_test(spectrum_reads_the_same_level_at_two_sizes),
        cmocka_unit_test(spectrum_gives_the_worked_harmonic_groups),
        cmocka_unit_test(spectrum_refuses_sizes_the_transform_is_bad_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
