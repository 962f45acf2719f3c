#include "check.h"

#include <stdlib.h>

void thrum_assert_close(double actual, double expected, double tolerance, const char *what, const char *file,
                        int line)
{
    if (isfinite(actual) && isfinite(expected) && fabs(actual - expected) <= tolerance)
        return;
    print_error("%s = %.12g, expected %.12g within %.3g\n", what, actual, expected, tolerance);
    _fail(file, line);
}

void thrum_assert_between(double actual, double low, double high, const char *what, const char *file,
                          int line)
{
    if (actual >= low && actual <= high)
        return;
    print_error("%s = %.12g, expected %.12g to %.12g\n", what, actual, low, high);
    _fail(file, line);
}

int thrum_trials(int n)
{
    int few = n / 5 > 0 ? n / 5 : 1;
    return getenv("THRUM_LIGHT") ? few : n;
}
