/* The neighbourhood of one tone at a low rate: level, phase, flatness, what is beyond it, steps. */
#include "check.h"

#include <stdlib.h>

#include "no_memory.h"
#include "signal/baseband.h"
#include "signals.h"
#include "thrum/units.h"

enum { N = 8000 };

static struct thrum_baseband *made(double rate_hz, double centre_hz, double pass_hz)
{
    struct thrum_baseband *b;
    assert_int_equal(thrum_baseband_create(rate_hz, centre_hz, pass_hz, &b), THRUM_OK);
    return b;
}

static struct cplx *run(const struct thrum_baseband *b, const float *x, size_t n)
{
    struct cplx *z = calloc(thrum_baseband_count(b, n) + 1, sizeof *z);
    assert_non_null(z);
    thrum_baseband_run(b, x, n, z);
    return z;
}

static void fill(float *x, double amplitude, double hz, double phase, double rate_hz)
{
    for (int i = 0; i < N; i++)
        x[i] = (float)(amplitude * cos(2 * THRUM_PI * hz * i / rate_hz + phase));
}

/* A cosine of amplitude a at the centre becomes a exp(j phase). */
static void a_cosine_becomes_its_complex_amplitude(void **state)
{
    (void)state;
    const double rates[] = {8000, 11025, 15999};
    static float x[N];
    for (int r = 0; r < 3; r++) {
        struct thrum_baseband *b = made(rates[r], 1037, 60);
        fill(x, 0.3, 1037, 0.8, rates[r]);
        struct cplx *z = run(b, x, N);
        for (size_t m = 0; m < thrum_baseband_count(b, N); m++) {
            assert_close(z[m].re, 0.3 * cos(0.8), 2e-4); /* the mirror at -2 f is 70 dB down */
            assert_close(z[m].im, 0.3 * sin(0.8), 2e-4);
        }
        free(z);
        thrum_baseband_destroy(b);
    }
}

/* Beside the centre it turns, and its turning is on time: sample m belongs to analysis sample m D. */
static void a_tone_beside_the_centre_turns_on_time(void **state)
{
    (void)state;
    static float x[N];
    struct thrum_baseband *b = made(8000, 1037, 60);
    fill(x, 1.0, 1048, 0.3, 8000);
    struct cplx *z = run(b, x, N);
    size_t first = thrum_baseband_first(b);
    for (size_t m = 0; m < thrum_baseband_count(b, N); m++) {
        double t = (double)(first + m) * b->step / 8000, angle = 2 * THRUM_PI * 11 * t + 0.3;
        assert_close(z[m].re, cos(angle), 1e-3);
        assert_close(z[m].im, sin(angle), 1e-3);
    }
    free(z);
    thrum_baseband_destroy(b);
}

static double power_at(struct thrum_baseband *b, double hz)
{
    static float x[N];
    double sum = 0;
    fill(x, 1.0, hz, 0.0, b->rate_hz);
    struct cplx *z = run(b, x, N);
    size_t n = thrum_baseband_count(b, N);
    for (size_t m = 0; m < n; m++)
        sum += cplx_power(z[m]) / (double)n;
    free(z);
    return 10 * log10(sum);
}

static void the_pass_band_is_flat_and_the_rest_70_db_down(void **state)
{
    (void)state;
    struct thrum_baseband *b = made(8000, 1037, 60);
    for (double d = -60; d <= 60; d += 15)
        assert_close(power_at(b, 1037 + d), 0.0, 0.01);
    for (double d = b->stop_hz; d < 900; d += 41) {
        assert_between(power_at(b, 1037 + d), -400, -69.5);
        assert_between(power_at(b, 1037 - d), -400, -69.5);
    }
    thrum_baseband_destroy(b);
}

/* White noise of variance s^2: z has 4 s^2 times the sum of h^2; `colour` is that against a flat band of its rate. */
static void noise_has_the_variance_that_colour_says(void **state)
{
    (void)state;
    enum { LONG = 800000 };
    struct thrum_baseband *b = made(8000, 1037, 60);
    float *x = calloc(LONG, sizeof *x);
    struct rng rng = rng_seeded(1);
    double sum = 0, taps = 0;
    add_noise(&rng, x, LONG, 0.1);
    struct cplx *z = run(b, x, LONG);
    size_t n = thrum_baseband_count(b, LONG);
    for (size_t m = 0; m < n; m++)
        sum += cplx_power(z[m]) / (double)n;
    for (int k = 0; k <= 2 * b->half; k++)
        taps += b->taps[k] * b->taps[k];
    assert_close(b->colour, taps * b->step, 1e-12);
    assert_close(sum / (4 * 0.01 * b->colour / b->step), 1.0, 0.04); /* sd 1 / sqrt(17000) = 0.008 */
    free(x);
    free(z);
    thrum_baseband_destroy(b);
}

/* The mean of a density over the band is the variance (Parseval), and half the amplitude is a quarter of the power. */
static void the_noise_at_a_place_is_what_the_filter_leaves_there(void **state)
{
    (void)state;
    enum { PLACES = 2000 };
    struct thrum_baseband *b = made(8000, 1037, 60);
    double mean = 0, between = 0.5 * (b->pass_hz + b->stop_hz),
           own = pow(10, power_at(b, 1037 + between) / 10);
    for (int i = 0; i < PLACES; i++)
        mean += thrum_baseband_noise(b, b->step_hz * ((i + 0.5) / PLACES - 0.5)) / PLACES;
    assert_close(mean, b->colour, 1e-6);
    assert_close(thrum_baseband_noise(b, 0.0), 1.0, 1e-3);
    double folded = pow(10, power_at(b, 1037 + between - b->step_hz) / 10);
    assert_close(thrum_baseband_noise(b, between), own + folded, 1e-3);
    thrum_baseband_destroy(b);
}

/* A tone that begins in the middle is seen as the step response says. Cosine and sine together make the complex tone, which
   has no mirror at -2 f whose own edge would be seen too. */
static void the_step_response_is_what_a_beginning_tone_looks_like(void **state)
{
    (void)state;
    const double offsets[] = {0, 7};
    for (int k = 0; k < 2; k++) {
        static float x[2][N];
        struct thrum_baseband *b = made(8000, 1037, 60);
        struct cplx *response = calloc(2 * (size_t)b->half + 2, sizeof *response), *z[2];
        const int begin = 4011;
        for (int part = 0; part < 2; part++) {
            fill(x[part], 1.0, 1037 + offsets[k], part ? -0.5 * THRUM_PI : 0.0, 8000);
            for (int i = 0; i < begin; i++)
                x[part][i] = 0.0f;
            z[part] = run(b, x[part], N);
        }
        thrum_baseband_step_response(b, offsets[k], response);
        for (size_t m = 0; m < thrum_baseband_count(b, N); m++) {
            double at = (double)(thrum_baseband_first(b) + m) * b->step;
            struct cplx gate = thrum_baseband_step_at(b, response, at - begin);
            struct cplx model = cplx_mul(gate, cplx_turn(2 * THRUM_PI * offsets[k] * at / 8000));
            assert_close(0.5 * (z[0][m].re - z[1][m].im), model.re, 1e-5);
            assert_close(0.5 * (z[0][m].im + z[1][m].re), model.im, 1e-5);
        }
        assert_close(thrum_baseband_step_at(b, response, -1e6).re, 0.0, 0.0);
        assert_close(sqrt(cplx_power(thrum_baseband_step_at(b, response, 1e6))), 1.0, 1e-3);
        free(response);
        free(z[0]);
        free(z[1]);
        thrum_baseband_destroy(b);
    }
}

static void too_little_sound_gives_no_samples(void **state)
{
    (void)state;
    struct thrum_baseband *b = made(8000, 1037, 60);
    size_t least = thrum_baseband_first(b) * (size_t)b->step + (size_t)b->half + 1;
    assert_int_equal(thrum_baseband_count(b, 0), 0);
    assert_int_equal(thrum_baseband_count(b, least - 1), 0);
    assert_int_equal(thrum_baseband_count(b, least), 1);
    thrum_baseband_destroy(b);
    thrum_baseband_destroy(NULL);
}

static void creation_survives_every_allocation_that_fails(void **state)
{
    (void)state;
    size_t before = no_memory_in_use();
    for (int n = 0; n < 5; n++) {
        struct thrum_baseband *b = (struct thrum_baseband *)(uintptr_t)1;
        no_memory_after(n);
        enum thrum_status status = thrum_baseband_create(8000, 1037, 60, &b);
        no_memory_after(-1);
        assert_int_equal(status, n < 4 ? THRUM_ERR_MEM : THRUM_OK);
        if (n < 4)
            assert_null(b);
        thrum_baseband_destroy(b);
        assert_int_equal(no_memory_in_use(), before);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cosine_becomes_its_complex_amplitude),
        cmocka_unit_test(a_tone_beside_the_centre_turns_on_time),
        cmocka_unit_test(the_pass_band_is_flat_and_the_rest_70_db_down),
        cmocka_unit_test(noise_has_the_variance_that_colour_says),
        cmocka_unit_test(the_noise_at_a_place_is_what_the_filter_leaves_there),
        cmocka_unit_test(the_step_response_is_what_a_beginning_tone_looks_like),
        cmocka_unit_test(too_little_sound_gives_no_samples),
        cmocka_unit_test(creation_survives_every_allocation_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
