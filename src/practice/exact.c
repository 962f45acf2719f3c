#include "practice/exact.h"

#include <math.h> /* only floor, frexp and ldexp, which are exact everywhere */

#include "thrum/units.h"

#ifdef __FAST_MATH__
#error "built with -ffast-math, the practice bundle would sound different on every machine: leave it out"
#endif

#define LN2  0.69314718055994530942
#define LN10 2.30258509299404568402

/* Taylor series about 0; on an eighth of a turn the first term left out is below 1e-16. */
static double sine_near_0(double x)
{
    double y = x * x, sum = 0.0;
    for (int k = 15; k >= 3; k -= 2)
        sum = (1.0 - sum) * y / (k * (k - 1));
    return x * (1.0 - sum);
}

static double cosine_near_0(double x)
{
    double y = x * x, sum = 0.0;
    for (int k = 16; k >= 2; k -= 2)
        sum = (1.0 - sum) * y / (k * (k - 1));
    return 1.0 - sum;
}

void exact_cos_sin(double turns, double *cosine, double *sine)
{
    double part = turns - floor(turns);                  /* 0 to 1 */
    int quarter = (int)floor(4.0 * part + 0.5);          /* 0 to 4 */
    double x = 2.0 * THRUM_PI * (part - 0.25 * quarter); /* -pi/4 to pi/4 */
    double c = cosine_near_0(x), s = sine_near_0(x);
    switch (quarter) {
    case 1:
        *cosine = -s, *sine = c;
        break;
    case 2:
        *cosine = -c, *sine = -s;
        break;
    case 3:
        *cosine = s, *sine = -c;
        break;
    default:
        *cosine = c, *sine = s;
    }
}

double exact_exp(double x)
{
    double n = floor(x / LN2 + 0.5), f = x - n * LN2, sum = 1.0;
    for (int k = 14; k >= 1; k--)
        sum = 1.0 + sum * f / k;
    return ldexp(sum, (int)n);
}

double exact_log(double x)
{
    int power;
    double m = frexp(x, &power); /* 0.5 to 1 */
    if (m < 0.70710678118654752440) {
        m *= 2.0;
        power--;
    }
    double s = (m - 1.0) / (m + 1.0), y = s * s, sum = 0.0;
    for (int k = 23; k >= 1; k -= 2)
        sum = sum * y + 1.0 / k;
    return 2.0 * s * sum + power * LN2;
}

double exact_amplitude(double db)
{
    return exact_exp(db * (LN10 / 20.0));
}
