/* The practice bundle's own mathematics and dice, against the C library and what dice must give. */
#include "check.h"
#include "practice/dice.h"
#include "practice/exact.h"
#include "practice/slow.h"
#include "thrum/units.h"

static void cosine_and_sine_agree_with_the_c_library(void **state)
{
    (void)state;
    for (int i = -4000; i <= 4000; i++) {
        double turns = i / 1017.0, c, s;
        exact_cos_sin(turns, &c, &s);
        /* 2 pi times 4 turns is itself only good to 25 * 2^-53 = 3e-15 in the reference */
        assert_close(c, cos(2.0 * THRUM_PI * turns), 4e-15);
        assert_close(s, sin(2.0 * THRUM_PI * turns), 4e-15);
    }
}

static void exponential_and_logarithm_agree_with_the_c_library(void **state)
{
    (void)state;
    for (int i = -3000; i <= 3000; i++) {
        double x = i / 10.0;
        assert_close(exact_exp(x) / exp(x), 1.0,
                     1e-13); /* 300 * 2^-53 in the argument is 3e-14 in the result */
        assert_close(exact_log(exp(x)), x, 1e-13);
    }
    for (int i = 1; i < 2000; i++)
        assert_close(exact_log(i / 1000.0), log(i / 1000.0), 1e-15 * (1.0 + fabs(log(i / 1000.0))));
    assert_close(exact_amplitude(-20.0), 0.1, 1e-16);
    assert_close(exact_amplitude(6.0), pow(10.0, 0.3), 1e-15);
}

struct moments {
    double mean, variance, kurtosis, lag_1;
};

static struct moments moments_of(double (*draw)(struct dice *), uint64_t seed, int n)
{
    struct dice dice = dice_stream(seed, 1);
    double sum = 0.0, squares = 0.0, fourths = 0.0, products = 0.0, last = 0.0;
    for (int i = 0; i < n; i++) {
        double x = draw(&dice);
        sum += x;
        squares += x * x;
        fourths += x * x * x * x;
        products += x * last;
        last = x;
    }
    double variance = squares / n;
    return (struct moments){sum / n, variance, fourths / n / (variance * variance), products / n / variance};
}

static double quick(struct dice *dice)
{
    return dice_quick_normal(dice);
}

static void normal_numbers_have_the_moments_of_normal_numbers(void **state)
{
    (void)state;
    enum { N = 1000000 };
    /* four standard errors: mean 1/sqrt(N), variance sqrt(2/N), kurtosis sqrt(24/N), lag 1/sqrt(N) */
    struct moments m = moments_of(dice_normal, 11, N);
    assert_close(m.mean, 0.0, 0.004);
    assert_close(m.variance, 1.0, 0.006);
    assert_close(m.kurtosis, 3.0, 0.020);
    assert_close(m.lag_1, 0.0, 0.004);
    m = moments_of(quick, 12, N);
    assert_close(m.mean, 0.0, 0.004);
    assert_close(m.variance, 1.0, 0.006);
    assert_close(m.kurtosis, 3.0 - 1.2 / 8.0, 0.020); /* computed: eight uniform numbers, 3 - 6/5/8 */
    assert_close(m.lag_1, 0.0, 0.004);
}

static void streams_of_one_seed_have_nothing_in_common(void **state)
{
    (void)state;
    enum { N = 100000 };
    struct dice a = dice_stream(5, 1), b = dice_stream(5, 2), c = dice_stream(6, 1);
    double ab = 0.0, ac = 0.0;
    for (int i = 0; i < N; i++) {
        double x = dice_normal(&a);
        ab += x * dice_normal(&b);
        ac += x * dice_normal(&c);
    }
    assert_close(ab / N, 0.0, 4.0 / sqrt(N));
    assert_close(ac / N, 0.0, 4.0 / sqrt(N));
}

static void whole_numbers_are_drawn_evenly(void **state)
{
    (void)state;
    struct dice dice = dice_stream(3, 3);
    int count[7] = {0};
    for (int i = 0; i < 70000; i++)
        count[dice_below(&dice, 7)]++;
    for (int k = 0; k < 7; k++)
        assert_close(count[k], 10000, 4.0 * 92.6); /* sqrt(70000 * 1/7 * 6/7) */
}

static void a_slow_curve_has_sd_1_and_the_correlation_time_asked_for(void **state)
{
    (void)state;
    enum { N = 400000, LAG = 70 };
    static double x[N];
    struct dice dice = dice_stream(9, 9);
    struct slow slow;
    slow_start(&slow, &dice, 0.01, 0.7);
    double squares = 0.0, products = 0.0;
    for (int i = 0; i < N; i++)
        x[i] = slow_next(&slow, &dice);
    for (int i = 0; i < N; i++)
        squares += x[i] * x[i];
    for (int i = LAG; i < N; i++)
        products += x[i] * x[i - LAG];
    /* 4000 s hold about 4000 independent pieces: four standard errors of the variance are 0.09 */
    assert_close(squares / N, 1.0, 0.09);
    assert_close(products / squares, exp(-1.0), 0.06);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cosine_and_sine_agree_with_the_c_library),
        cmocka_unit_test(exponential_and_logarithm_agree_with_the_c_library),
        cmocka_unit_test(normal_numbers_have_the_moments_of_normal_numbers),
        cmocka_unit_test(streams_of_one_seed_have_nothing_in_common),
        cmocka_unit_test(whole_numbers_are_drawn_evenly),
        cmocka_unit_test(a_slow_curve_has_sd_1_and_the_correlation_time_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
