/* Values in order, against the C library's own sort. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "signals.h"

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Every length up to 70 and one of 2048; values with many alike among them. */
static void values_rise_as_qsort_has_them(void **state)
{
    (void)state;
    static double x[2048], expected[2048];
    struct rng rng = rng_seeded(1);
    for (int n = 0; n <= 71; n++) {
        int length = n == 71 ? 2048 : n;
        for (int i = 0; i < length; i++)
            x[i] = i % 3 ? rng_normal(&rng) : 0.5;
        memcpy(expected, x, sizeof x);
        qsort(expected, (size_t)length, sizeof *expected, by_size);
        thrum_order(x, length);
        assert_memory_equal(x, expected, sizeof x); /* what lies behind is untouched */
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_rise_as_qsort_has_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
