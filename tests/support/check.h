/* The one test header: what cmocka needs first, then cmocka, then our own checks. */
#ifndef THRUM_TEST_CHECK_H
#define THRUM_TEST_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdbool.h>

/* Fails unless both are finite and |actual - expected| <= tolerance. In double, unlike cmocka's own. */
#define assert_close(actual, expected, tolerance)                                                            \
    thrum_assert_close((double)(actual), (double)(expected), (double)(tolerance), #actual, __FILE__, __LINE__)

void thrum_assert_close(double actual, double expected, double tolerance, const char *what, const char *file,
                        int line);

/* Fails unless low <= actual <= high. */
#define assert_between(actual, low, high)                                                                    \
    thrum_assert_between((double)(actual), (double)(low), (double)(high), #actual, __FILE__, __LINE__)

void thrum_assert_between(double actual, double low, double high, const char *what, const char *file,
                          int line);

/* So many trials, a fifth of them (but one at least) where the environment has THRUM_LIGHT: under the sanitizers. */
int thrum_trials(int n);

#endif
