/* Sums and extremes of a block, against the same worked out one by one. */
#include "check.h"

#include "signal/sums.h"
#include "signals.h"

enum { MOST = 130 };

static void every_length_and_sign_is_taken(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(5201);
    for (int n = 1; n <= MOST; n++)
        for (int side = -1; side <= 1; side++) { /* all below zero, about it, all above */
            float x[MOST], high = -1e9f, low = 1e9f;
            double sum = 0.0, squares = 0.0;
            for (int i = 0; i < n; i++) {
                x[i] = (float)(3.0 * side + rng_between(&rng, -2.0, 2.0));
                high = fmaxf(high, x[i]);
                low = fminf(low, x[i]);
                sum += (double)x[i];
                squares += (double)x[i] * (double)x[i];
            }
            struct thrum_sums got = thrum_sums_of(x, n);
            assert_true(got.high == high && got.low == low);
            assert_close(got.sum, sum, 1e-6 * (squares + 1.0)); /* float lanes: half a step of each sum */
            assert_close(got.squares, squares, 1e-6 * (squares + 1.0));
        }
}

static void zeros_of_either_sign_are_silence(void **state)
{
    (void)state;
    const float x[] = {-0.0f, 0.0f, -0.0f}, *minus = x + 2;
    struct thrum_sums both = thrum_sums_of(x, 3), one = thrum_sums_of(minus, 1);
    assert_true(both.high == 0.0f && both.low == 0.0f && one.high == 0.0f && one.low == 0.0f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_length_and_sign_is_taken),
                                       cmocka_unit_test(zeros_of_either_sign_are_silence)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
