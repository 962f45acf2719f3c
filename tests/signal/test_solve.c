/* Hermitian systems against worked ones and against what the equations themselves demand. */
#include "check.h"

#include <string.h>

#include "signal/solve.h"
#include "signals.h"

/* Worked by hand: [4, 2-2j; 2+2j, 6] = L L^H with L = [2, 0; 1+j, 2]; x = (1, j) gives b = (6+2j, 2+8j). */
static void a_worked_two_by_two_is_solved(void **state)
{
    (void)state;
    struct cplx a[4] = {{4, 0}, {99, 99}, {2, 2}, {6, 0}}; /* the upper triangle is never read */
    struct cplx b[2] = {{6, 2}, {2, 8}};
    assert_true(thrum_solve_factor(a, 2, 2));
    assert_close(a[0].re, 2, 1e-15);
    assert_close(a[2].re, 1, 1e-15);
    assert_close(a[2].im, 1, 1e-15);
    assert_close(a[3].re, 2, 1e-15);
    thrum_solve_forward(a, 2, 2, b);
    thrum_solve_back(a, 2, 2, b);
    assert_close(b[0].re, 1, 1e-14);
    assert_close(b[0].im, 0, 1e-14);
    assert_close(b[1].re, 0, 1e-14);
    assert_close(b[1].im, 1, 1e-14);
}

/* A = M M^H + I for random M; b = A x; the answer must be x. Stride wider than the system. */
static void random_systems_give_back_what_went_in(void **state)
{
    (void)state;
    enum { MOST = 40, STRIDE = 47 };
    static struct cplx m[MOST][MOST], a[MOST * STRIDE];
    struct rng rng = rng_seeded(1);
    for (int n = 1; n <= MOST; n += 3) {
        struct cplx x[MOST], b[MOST];
        for (int i = 0; i < n; i++) {
            x[i] = (struct cplx){rng_normal(&rng), rng_normal(&rng)};
            b[i] = (struct cplx){0, 0};
            for (int j = 0; j < n; j++)
                m[i][j] = (struct cplx){rng_normal(&rng), rng_normal(&rng)};
        }
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++) {
                struct cplx sum = {i == j, 0};
                for (int k = 0; k < n; k++)
                    sum = cplx_add(sum, cplx_mul_conj(m[j][k], m[i][k]));
                a[i * STRIDE + j] = sum;
                b[i] = cplx_add(b[i], cplx_mul(sum, x[j]));
            }
        assert_true(thrum_solve_factor(a, n, STRIDE));
        thrum_solve_forward(a, n, STRIDE, b);
        thrum_solve_back(a, n, STRIDE, b);
        for (int i = 0; i < n; i++) {
            assert_close(b[i].re, x[i].re, 1e-9);
            assert_close(b[i].im, x[i].im, 1e-9);
        }
    }
}

static void what_is_not_positive_definite_is_refused(void **state)
{
    (void)state;
    struct cplx zero[1] = {{0, 0}}, negative[1] = {{-1, 0}}, nan[1] = {{(double)NAN, 0}};
    struct cplx singular[4] = {{1, 0}, {0, 0}, {1, 0}, {1, 0}},
                indefinite[4] = {{1, 0}, {0, 0}, {0, 2}, {1, 0}};
    assert_false(thrum_solve_factor(zero, 1, 1));
    assert_false(thrum_solve_factor(negative, 1, 1));
    assert_false(thrum_solve_factor(nan, 1, 1));
    assert_false(thrum_solve_factor(singular, 2, 2));
    assert_false(thrum_solve_factor(indefinite, 2, 2));
    assert_true(thrum_solve_factor(zero, 0, 1));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_worked_two_by_two_is_solved),
        cmocka_unit_test(random_systems_give_back_what_went_in),
        cmocka_unit_test(what_is_not_positive_definite_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
