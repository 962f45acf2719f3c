/* Windows against their published figures. */
#include "check.h"

#include "signal/window.h"
#include "thrum/units.h"

enum { N = 4096 };

/* The offset in bins at which the response has fallen to `level`, by halving. */
static double width_at(const float *w, double level)
{
    double low = 0.0, high = 2.0;
    for (int i = 0; i < 40; i++) {
        double middle = (low + high) / 2;
        if (thrum_window_response(w, N, middle) > level)
            low = middle;
        else
            high = middle;
    }
    return 2.0 * low;
}

static double highest_side_lobe_db(const float *w, double from)
{
    double highest = 0.0;
    for (double offset = from; offset < from + 8.0; offset += 0.02)
        highest = fmax(highest, thrum_window_response(w, N, offset));
    return thrum_db_from_amplitude(highest);
}

static void windows_have_their_published_figures(void **state)
{
    (void)state;
    /* computed for periodic windows at N = 4096 from the coefficients; F. J. Harris, Proc. IEEE 66(1), 1978, Table I
       prints 1.50, 1.42, -32 for Hann (read) and 2.00, 0.83, -92 for Blackman-Harris (from memory) */
    static const struct {
        enum thrum_window kind;
        double gain, enbw, half_power, half_amplitude, scallop_db, side_lobe_db, first_zero;
    } row[] = {
        {THRUM_WINDOW_HANN, 0.5000, 1.5000, 1.441, 2.000, 1.4236, -31.47, 2.0},
        {THRUM_WINDOW_BLACKMAN_HARRIS, 0.3588, 2.0044, 1.899, 2.666, 0.8256, -92.01, 4.0},
    };
    float w[N];
    for (int i = 0; i < 2; i++) {
        thrum_window_fill(row[i].kind, true, w, N);
        assert_close(thrum_window_coherent_gain(w, N), row[i].gain, 1e-4);
        assert_close(thrum_window_enbw_bins(w, N), row[i].enbw, 1e-3);
        assert_close(width_at(w, sqrt(0.5)), row[i].half_power, 1e-3);
        assert_close(width_at(w, 0.5), row[i].half_amplitude, 1e-3);
        assert_close(-thrum_db_from_amplitude(thrum_window_response(w, N, 0.5)), row[i].scallop_db, 1e-3);
        assert_close(highest_side_lobe_db(w, row[i].first_zero), row[i].side_lobe_db, 0.02);
    }
    /* exact: Hann scallop = 20 lg(8 / (3 pi)), computed */
    thrum_window_fill(THRUM_WINDOW_HANN, true, w, N);
    assert_close(thrum_window_response(w, N, 0.5), 8.0 / (3.0 * THRUM_PI), 1e-6);
}

static void symmetric_hann_has_the_noise_bandwidth_of_the_worked_example(void **state)
{
    (void)state;
    /* ENBW of a symmetric Hann window of 128 at 1000 Hz: 11.8110 Hz (a signal-processing toolbox manual, ENBW page, read) */
    float w[128];
    thrum_window_fill(THRUM_WINDOW_HANN, false, w, 128);
    assert_close(thrum_window_enbw_bins(w, 128) * 1000.0 / 128.0, 11.8110, 0.5e-4);
    assert_close(w[0], 0.0, 1e-7);
    assert_close(w[127], 0.0, 1e-7);
}

static void periodic_window_peaks_at_one_in_the_middle(void **state)
{
    (void)state;
    float w[100];
    for (int kind = THRUM_WINDOW_HANN; kind <= THRUM_WINDOW_BLACKMAN_HARRIS; kind++) {
        thrum_window_fill((enum thrum_window)kind, true, w, 100);
        assert_close(w[50], 1.0, 1e-6);
        for (int i = 1; i < 50; i++)
            assert_close(w[i], w[100 - i], 1e-7);
    }
}

/* Its samples are floats: each is wrong by up to 3e-8. */
static void hann_by_formula_is_hann_by_its_samples(void **state)
{
    (void)state;
    static const int sizes[] = {4, 64, 1600, 3200};
    static float window[3200];
    for (int k = 0; k < 4; k++) {
        thrum_window_fill(THRUM_WINDOW_HANN, true, window, sizes[k]);
        for (double offset = 0.0; offset <= 1.6; offset += 0.05) {
            double response = thrum_window_hann_response(sizes[k], offset);
            assert_close(response, thrum_window_response(window, sizes[k], offset), 1e-7);
            assert_close(thrum_window_hann_response(sizes[k], -offset), response, 1e-12);
        }
        assert_close(thrum_window_hann_response(sizes[k], 1.0), 0.5, 1e-12);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hann_by_formula_is_hann_by_its_samples),
        cmocka_unit_test(windows_have_their_published_figures),
        cmocka_unit_test(symmetric_hann_has_the_noise_bandwidth_of_the_worked_example),
        cmocka_unit_test(periodic_window_peaks_at_one_in_the_middle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
