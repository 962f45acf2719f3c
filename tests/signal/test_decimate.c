/* From the input's rate to the analysis rate: flat where tones are, clean of what would fold, on time. */
#include "check.h"

#include <stdlib.h>

#include "no_memory.h"
#include "signal/decimate.h"
#include "signals.h"
#include "thrum/units.h"

static float *decimated(const float *x, size_t n, double rate_hz, size_t block, size_t *made)
{
    struct thrum_decimate *decimate;
    assert_int_equal(thrum_decimate_create(rate_hz, &decimate), THRUM_OK);
    size_t room = n / (size_t)thrum_decimate_factor(rate_hz) + thrum_decimate_tail(decimate) + 1;
    float *out = calloc(room, sizeof *out);
    assert_non_null(out);
    *made = 0;
    for (size_t at = 0; at < n; at += block)
        *made += thrum_decimate_feed(decimate, x + at, n - at < block ? n - at : block, out + *made);
    *made += thrum_decimate_finish(decimate, out + *made);
    assert_true(*made <= room);
    thrum_decimate_destroy(decimate);
    return out;
}

/* Power of the least-squares line at hz, rates apart: 2/N |sum x exp(-jwn)|, over whole windows long against a period. */
static double level_db(const float *x, size_t n, double hz, double rate_hz)
{
    double re = 0, im = 0, weight = 0;
    for (size_t i = 0; i < n; i++) {
        double w = 1 - cos(2 * THRUM_PI * ((double)i + 0.5) / (double)n),
               a = 2 * THRUM_PI * hz * (double)i / rate_hz;
        re += w * (double)x[i] * cos(a);
        im += w * (double)x[i] * sin(a);
        weight += w;
    }
    return 20 * log10(2 * sqrt(re * re + im * im) / weight + 1e-30);
}

static float *sine(double hz, double rate_hz, size_t n)
{
    float *x = calloc(n, sizeof *x);
    assert_non_null(x);
    for (size_t i = 0; i < n; i++)
        x[i] = (float)cos(2 * THRUM_PI * hz * (double)i / rate_hz);
    return x;
}

static const double rates[] = {8000, 11025, 15999, 16000, 22050, 44100, 48000, 88200, 96000, 176400, 192000};
enum { RATES = sizeof rates / sizeof *rates };

/* Computed: whole numbers that bring each of the usual rates into [8000, 16000) Hz. */
static void the_factor_brings_every_usual_rate_into_range(void **state)
{
    (void)state;
    const int factor[RATES] = {1, 1, 1, 2, 2, 5, 6, 11, 12, 22, 24};
    for (int i = 0; i < RATES; i++) {
        assert_int_equal(thrum_decimate_factor(rates[i]), factor[i]);
        assert_between(rates[i] / factor[i], 8000, 15999.999);
    }
}

static void tones_of_senders_pass_within_2_thousandths_of_a_db(void **state)
{
    (void)state;
    const double tones[] = {50, 300, 1037, 2211, 3400};
    for (int r = 0; r < RATES; r++)
        for (int k = 0; k < 5; k++) {
            size_t n = (size_t)rates[r], made;
            float *x = sine(tones[k], rates[r], n), *y = decimated(x, n, rates[r], 4096, &made);
            double out_hz = rates[r] / thrum_decimate_factor(rates[r]);
            size_t edge = (size_t)(0.05 * out_hz);
            assert_close(level_db(y + edge, made - 2 * edge, tones[k], out_hz), 0.0, 0.002);
            free(x);
            free(y);
        }
}

/* What would fold onto 0 to 3500 Hz is at least 75 dB down. */
static void what_would_fold_is_75_db_down(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; r++) {
        int factor = thrum_decimate_factor(rates[r]);
        double out_hz = rates[r] / factor;
        for (int image = 1; image <= factor / 2; image++)
            for (int k = 0; k < 6; k++) {
                double lands = 100 + 680.0 * k, hz = image * out_hz + (k % 2 ? lands : -lands);
                size_t n = (size_t)(rates[r] / 2), made;
                if (hz > 0.5 * rates[r])
                    continue;
                float *x = sine(hz, rates[r], n), *y = decimated(x, n, rates[r], 4096, &made);
                size_t edge = (size_t)(0.05 * out_hz);
                assert_between(level_db(y + edge, made - 2 * edge, lands, out_hz), -400, -75);
                free(x);
                free(y);
            }
    }
}

/* Output k belongs to input frame k times the factor: a sine comes out in phase with the one played. */
static void output_is_on_time_and_whole(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; r++) {
        size_t n = 9001, made, factor = (size_t)thrum_decimate_factor(rates[r]);
        float *x = sine(700, rates[r], n), *y = decimated(x, n, rates[r], 441, &made);
        assert_int_equal(made, (n - 1) / factor + 1); /* frames 0, factor, 2 factor ... below n */
        for (size_t k = made / 4; k < 3 * made / 4; k++)
            assert_close(y[k], x[k * factor], 3e-4);
        free(x);
        free(y);
    }
}

static void any_split_gives_the_same_digits(void **state)
{
    (void)state;
    const size_t blocks[] = {1, 64, 441, 4096};
    for (int r = 0; r < RATES; r++) {
        enum { N = 20011 };
        float *x = calloc(N, sizeof *x);
        struct rng rng = rng_seeded(1);
        size_t made, other;
        add_noise(&rng, x, N, 0.1);
        float *whole = decimated(x, N, rates[r], N, &made);
        for (int b = 0; b < 4; b++) {
            float *y = decimated(x, N, rates[r], blocks[b], &other);
            assert_int_equal(other, made);
            assert_memory_equal(y, whole, made * sizeof *y);
            free(y);
        }
        free(x);
        free(whole);
    }
}

static void rates_outside_are_refused(void **state)
{
    (void)state;
    const double bad[] = {7999.9, 192000.1, 0, -8000, (double)NAN, (double)INFINITY};
    for (int i = 0; i < 6; i++) {
        struct thrum_decimate *decimate = (struct thrum_decimate *)(uintptr_t)1;
        assert_int_equal(thrum_decimate_create(bad[i], &decimate), THRUM_ERR_ARG);
        assert_null(decimate);
    }
    thrum_decimate_destroy(NULL);
}

static void creation_survives_every_allocation_that_fails(void **state)
{
    (void)state;
    size_t before = no_memory_in_use();
    int n = 0;
    for (;; n++) {
        struct thrum_decimate *decimate = (struct thrum_decimate *)(uintptr_t)1;
        no_memory_after(n);
        enum thrum_status status = thrum_decimate_create(48000, &decimate);
        no_memory_after(-1);
        thrum_decimate_destroy(status == THRUM_OK ? decimate : NULL);
        assert_int_equal(no_memory_in_use(), before);
        if (status == THRUM_OK)
            break;
        assert_int_equal(status, THRUM_ERR_MEM);
        assert_null(decimate);
    }
    assert_int_equal(n, 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_factor_brings_every_usual_rate_into_range),
        cmocka_unit_test(tones_of_senders_pass_within_2_thousandths_of_a_db),
        cmocka_unit_test(what_would_fold_is_75_db_down),
        cmocka_unit_test(output_is_on_time_and_whole),
        cmocka_unit_test(any_split_gives_the_same_digits),
        cmocka_unit_test(rates_outside_are_refused),
        cmocka_unit_test(creation_survives_every_allocation_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
