/* Tails of chi-square and F against published thresholds and an outside library. */
#include "check.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_sf_bessel.h>

#include "signal/chance.h"

/* Computed: P_fa = exp(-T / 2), thresholds of the known-frequency test, two degrees of freedom. */
static void two_degrees_give_the_closed_form_thresholds(void **state)
{
    (void)state;
    const double p[] = {1e-2, 1e-3, 1e-4, 1e-6, 1e-8}, t[] = {9.2103, 13.8155, 18.4207, 27.6310, 36.8414};
    for (int i = 0; i < 5; i++)
        assert_close(thrum_chance_ln_chi2(1, t[i]), log(p[i]), 1e-4);
}

/* Computed (incoherent sum of M bursts, 2 M degrees): thresholds for P_fa 1e-3 and 1e-6. */
static void m_bursts_give_the_computed_thresholds(void **state)
{
    (void)state;
    const int m[] = {2, 3, 4, 6, 8, 12, 16, 24, 32};
    const double milli[] = {18.467, 22.458, 26.124, 32.909, 39.252, 51.179, 62.487, 84.037, 104.716};
    const double micro[] = {33.377, 38.258, 42.701, 50.825, 58.324, 72.229, 85.232, 109.659, 132.787};
    for (int i = 0; i < 9; i++) {
        assert_close(thrum_chance_ln_chi2(m[i], milli[i]), log(1e-3), 1e-3);
        assert_close(thrum_chance_ln_chi2(m[i], micro[i]), log(1e-6), 1e-3);
    }
}

/* Where the chance that noise alone reaches t is p: by halving. */
static double threshold(int m, double p)
{
    double low = 0.0, high = 400.0;
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        if (thrum_chance_ln_chi2(m, middle) > log(p))
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Noncentral chi-square as a Poisson mixture of central ones: how often M bursts of that total noncentrality are heard. */
static double heard_share(int m, double lambda, double t)
{
    double sum = 0.0;
    for (unsigned j = 0; j < 400; j++)
        sum += gsl_ran_poisson_pdf(j, 0.5 * lambda) * gsl_cdf_chisq_Q(t, 2.0 * (m + (double)j));
    return sum;
}

/* Computed (incoherent sum of M bursts): the total noncentrality that is heard in 0.9 of all cases. The numbers are rounded to
   0.01, which is 2e-4 of the share; 1 % of one is 4e-3. */
static void m_bursts_are_heard_at_the_computed_totals(void **state)
{
    (void)state;
    const int m[] = {1, 2, 3, 4, 6, 8, 12, 16, 24, 32};
    const double milli[] = {23.82, 27.68, 30.57, 32.99, 37.01, 40.38, 46.02, 50.76, 58.70, 65.38};
    const double micro[] = {41.63, 46.50, 50.24, 53.41, 58.75, 63.27, 70.88, 77.32, 88.15, 97.29};
    for (int i = 0; i < 10; i++) {
        assert_close(heard_share(m[i], milli[i], threshold(m[i], 1e-3)), 0.9, 3e-4);
        assert_close(heard_share(m[i], micro[i], threshold(m[i], 1e-6)), 0.9, 3e-4);
    }
}

static void chi_square_agrees_with_an_outside_library(void **state)
{
    (void)state;
    for (int m = 1; m <= 200; m += 7)
        for (double t = 0.0; t < 600.0; t += 13.7) {
            double outside = gsl_cdf_chisq_Q(t, 2.0 * m);
            if (outside > 1e-290)
                assert_close(thrum_chance_ln_chi2(m, t), log(outside), 1e-9 * (1 + fabs(log(outside))));
        }
}

static void f_agrees_with_an_outside_library(void **state)
{
    (void)state;
    for (int m = 1; m <= 60; m += 4)
        for (double n = 1.5; n < 300.0; n *= 1.7)
            for (double e = 0.5; e < 400.0; e *= 2.3) {
                double outside = gsl_cdf_fdist_Q(e / m, 2.0 * m, 2.0 * n);
                if (outside > 1e-280)
                    assert_close(thrum_chance_ln_f(m, n, e), log(outside), 1e-8 * (1 + fabs(log(outside))));
            }
}

/* With ever more noise to measure the noise from, F becomes chi-square. */
static void f_approaches_chi_square(void **state)
{
    (void)state;
    assert_close(thrum_chance_ln_f(6, 1e7, 16.0), thrum_chance_ln_chi2(6, 32.0), 1e-4);
}

static void far_tails_stay_finite_and_nothing_has_chance_one(void **state)
{
    (void)state;
    assert_close(thrum_chance_ln_chi2(5, 0.0), 0.0, 1e-12);
    assert_close(thrum_chance_ln_f(5, 10.0, 0.0), 0.0, 1e-12);
    /* computed: the closed form's largest term, -t/2 + (m-1) ln(t/2) - ln((m-1)!), and less than 1 above it */
    assert_close(thrum_chance_ln_chi2(500, 1e6), -5e5 + 499 * log(5e5) - lgamma(500.0), 1.0);
    assert_true(isfinite(thrum_chance_ln_f(500, 5e4, 1e9)));
    for (double t = 0; t < 1e5; t = 2 * t + 1)
        assert_true(thrum_chance_ln_chi2(300, 2 * t + 1) <=
                    thrum_chance_ln_chi2(300, t) + 1e-12); /* rounding */
}

static void bessel_agrees_with_an_outside_library(void **state)
{
    (void)state;
    assert_close(thrum_chance_ln_i0(0.0), 0.0, 1e-12);
    for (double x = 0.001; x < 1e6; x *= 1.07)
        assert_close(thrum_chance_ln_i0(x), log(gsl_sf_bessel_I0_scaled(x)) + x, 5e-7 + 1e-14 * x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_degrees_give_the_closed_form_thresholds),
        cmocka_unit_test(m_bursts_give_the_computed_thresholds),
        cmocka_unit_test(m_bursts_are_heard_at_the_computed_totals),
        cmocka_unit_test(chi_square_agrees_with_an_outside_library),
        cmocka_unit_test(f_agrees_with_an_outside_library),
        cmocka_unit_test(f_approaches_chi_square),
        cmocka_unit_test(bessel_agrees_with_an_outside_library),
        cmocka_unit_test(far_tails_stay_finite_and_nothing_has_chance_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
