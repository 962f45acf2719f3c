#include "signal/chance.h"

#include <math.h>

double thrum_chance_ln_chi2(int m, double t)
{
    /* exp(-t/2) sum_{k<m} (t/2)^k / k!, summed from its largest term down */
    double half = 0.5 * t, term = 1.0, sum = 1.0, ln_scale = 0.0;
    for (int k = 1; k < m; k++) {
        term *= half / k;
        sum += term;
        if (sum > 1e200) {
            sum *= 1e-200;
            term *= 1e-200;
            ln_scale += 200.0 * log(10.0);
        }
    }
    return fmin(log(sum) + ln_scale - half, 0.0);
}

double thrum_chance_ln_f(int m, double n, double explained)
{
    /* With B = E/(E+N) beta(m, n): P(B > b) = sum_{k<m} C(n+k-1, k) b^k (1-b)^n, m whole. */
    double ratio = explained / n, b = ratio / (1.0 + ratio), term = 1.0, sum = 1.0, ln_scale = 0.0;
    for (int k = 1; k < m; k++) {
        term *= b * (n + k - 1.0) / k;
        sum += term;
        if (sum > 1e200) {
            sum *= 1e-200;
            term *= 1e-200;
            ln_scale += 200.0 * log(10.0);
        }
    }
    return fmin(log(sum) + ln_scale - n * log1p(ratio), 0.0);
}

double thrum_chance_ln_i0(double x)
{
    if (x < 3.75) {
        double t = x * x / (3.75 * 3.75);
        return log1p(t *
                     (3.5156229 +
                      t * (3.0899424 + t * (1.2067492 + t * (0.2659732 + t * (0.0360768 + t * 0.0045813))))));
    }
    double t = 3.75 / x;
    return x - 0.5 * log(x) +
           log(0.39894228 +
               t * (0.01328592 +
                    t * (0.00225319 +
                         t * (-0.00157565 +
                              t * (0.00916281 +
                                   t * (-0.02057706 +
                                        t * (0.02635537 + t * (-0.01647633 + t * 0.00392377))))))));
}
