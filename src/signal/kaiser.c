#include "signal/kaiser.h"

#include <math.h>

#include "thrum/units.h"

/* Modified Bessel function of order 0, by its power series; x up to about 20. */
static double bessel_i0(double x)
{
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 60 && term > 1e-17 * sum; k++) {
        term *= (x / (2.0 * k)) * (x / (2.0 * k));
        sum += term;
    }
    return sum;
}

int thrum_kaiser_half(double pass, double stop, double attenuation_db)
{
    double order = (attenuation_db - 7.95) / (2.285 * 2.0 * THRUM_PI * (stop - pass));
    return (int)ceil(order / 2.0);
}

void thrum_kaiser_lowpass(double pass, double stop, double attenuation_db, int half, double *taps)
{
    double beta = 0.1102 * (attenuation_db - 8.7), cut = 0.5 * (pass + stop), sum = 0.0;
    for (int k = -half; k <= half; k++) {
        double r = (double)k / (half + 1);
        double ideal = k == 0 ? 2.0 * cut : sin(2.0 * THRUM_PI * cut * k) / (THRUM_PI * k);
        taps[k + half] = ideal * bessel_i0(beta * sqrt(1.0 - r * r)) / bessel_i0(beta);
        sum += taps[k + half];
    }
    for (int k = 0; k <= 2 * half; k++)
        taps[k] /= sum;
}
