/* What is likely of one window's energy over its noise. */
#include <math.h>

#include "signal/keying_own.h"

#define WOBBLE_LN 0.46 /* of a hand, from beep to beep: 2 dB */
#define MISSING   0.02 /* of the beeps */

double thrum_keying_ln_noise(double e)
{
    return -e;
}

/* Anything, as loud as it likes: ln(1 + e) has the density 1 / (1 + ln(1 + e))^2. */
double thrum_keying_ln_foreign(double e)
{
    double u = log1p(e);
    return -u - 2.0 * log1p(u);
}

/* A tone of energy g that wobbles: a gamma density of the right mean and variance (Patnaik 1949; from memory). */
static double ln_tone(double e, double g)
{
    double mean = 1.0 + g, variance = 1.0 + 2.0 * g + WOBBLE_LN * WOBBLE_LN * g * g;
    double shape = mean * mean / variance, rate = mean / variance;
    return shape * log(rate) + (shape - 1.0) * log(fmax(e, 1e-6)) - rate * e - lgamma(shape);
}

double thrum_keying_ln_plus(double a, double b)
{
    return fmax(a, b) + log1p(exp(-fabs(a - b)));
}

double thrum_keying_ln_with(double ln, double weight, double other)
{
    return thrum_keying_ln_plus(log(1.0 - weight) + ln, log(weight) + other);
}

/* A window in which the tone is. */
double thrum_keying_ln_heard(double e, double g)
{
    return thrum_keying_ln_with(thrum_keying_ln_with(ln_tone(e, g), MISSING, thrum_keying_ln_noise(e)),
                                THRUM_KEYING_FOREIGN, thrum_keying_ln_foreign(e));
}
