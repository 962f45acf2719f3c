/* Vectors of complex numbers, against the same worked out one by one in double with the C library's cosine. */
#include "check.h"

#include <string.h>

#include "signal/cplx.h"
#include "signals.h"
#include "thrum/units.h"

enum { MOST = 1003 };

static void fill(struct rng *rng, struct cplx *a, size_t n)
{
    for (size_t m = 0; m < n; m++)
        a[m] = (struct cplx){rng_normal(rng), rng_normal(rng)};
}

static void dot_and_multiply_take_every_length(void **state)
{
    (void)state;
    static struct cplx a[MOST], b[MOST], c[MOST];
    struct rng rng = rng_seeded(5101);
    fill(&rng, a, MOST);
    fill(&rng, b, MOST);
    for (size_t n = 0; n <= MOST; n += n < 12 ? 1 : 331) {
        struct cplx sum = {0.0, 0.0}, dot = thrum_cplx_dot(a, b, n);
        thrum_cplx_multiply(a, b, n, c);
        for (size_t m = 0; m < n; m++) {
            sum = cplx_add(sum, cplx_mul_conj(a[m], b[m]));
            assert_close(c[m].re, a[m].re * b[m].re - a[m].im * b[m].im, 1e-15);
            assert_close(c[m].im, a[m].re * b[m].im + a[m].im * b[m].re, 1e-15);
        }
        /* rounding of n sums, each of up to 2 sqrt(n) */
        assert_close(dot.re, sum.re, 1e-12);
        assert_close(dot.im, sum.im, 1e-12);
    }
}

static void running_sums_are_those_of_the_first_so_many(void **state)
{
    (void)state;
    static struct cplx a[MOST], sums[MOST + 1];
    struct rng rng = rng_seeded(5103);
    fill(&rng, a, MOST);
    for (size_t n = 0; n <= MOST; n += n < 12 ? 1 : 331) {
        struct cplx sum = {0.0, 0.0};
        thrum_cplx_add_up(a, n, sums);
        for (size_t m = 0; m <= n; m++) {
            assert_close(sums[m].re, sum.re, 1e-12);
            assert_close(sums[m].im, sum.im, 1e-12);
            if (m < n)
                sum = cplx_add(sum, a[m]);
        }
    }
}

static void so_many_times_one_is_taken_off_another(void **state)
{
    (void)state;
    static struct cplx a[MOST], b[MOST], c[MOST];
    struct rng rng = rng_seeded(5102);
    const struct cplx times = {0.3, -1.7};
    fill(&rng, a, MOST);
    fill(&rng, b, MOST);
    for (size_t n = 0; n <= MOST; n += n < 12 ? 1 : 331) {
        memcpy(c, b, sizeof c);
        thrum_cplx_take_off(times, a, n, c);
        for (size_t m = 0; m < MOST; m++) {
            assert_close(c[m].re, b[m].re - (m < n ? 0.3 * a[m].re + 1.7 * a[m].im : 0.0), 1e-14);
            assert_close(c[m].im, b[m].im - (m < n ? 0.3 * a[m].im - 1.7 * a[m].re : 0.0), 1e-14);
        }
    }
}

static void turning_follows_the_cosine(void **state)
{
    (void)state;
    static struct cplx out[MOST];
    const struct thrum_turning turnings[] = {{200.0, -1.5, 12.3, 0.0},
                                             {271.3, 0.0, -97.7, 0.4},
                                             {200.0, -30.0, 0.0, -1.0},
                                             {8000.0, 2.0, 3399.9, 0.2}};
    for (int i = 0; i < 4; i++)
        for (size_t n = 0; n <= MOST; n += n < 12 ? 1 : 991) {
            const struct thrum_turning *t = &turnings[i];
            thrum_cplx_turns(*t, n, out);
            for (size_t m = 0; m < n; m++) {
                double u = t->from_s + (double)m / t->rate_hz;
                double phase = 2.0 * THRUM_PI * fmod(t->hz * u + 0.5 * t->slope_hz_per_s * u * u, 1.0);
                /* 250 steps of a lane, the error of a step's own step adding up with their square */
                assert_close(out[m].re, cos(phase), 1e-10);
                assert_close(out[m].im, sin(phase), 1e-10);
            }
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(dot_and_multiply_take_every_length),
                                       cmocka_unit_test(running_sums_are_those_of_the_first_so_many),
                                       cmocka_unit_test(so_many_times_one_is_taken_off_another),
                                       cmocka_unit_test(turning_follows_the_cosine)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
