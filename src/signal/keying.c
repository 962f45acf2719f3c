#include "signal/keying.h"

#include <math.h>

#define WOBBLE_LN 0.46 /* of a hand, from beep to beep: 2 dB */
#define MISSING   0.02 /* of the beeps */
#define FOREIGN   0.01 /* of the windows hold another sound */
#define STEP_LN   0.46 /* strengths tried: 2 dB apart... */
#define STEPS     4    /* ...on either side of the likeliest */

static double energy(const struct thrum_keying_window *window)
{
    return window->power / window->variance;
}

static double ln_noise(double e)
{
    return -e;
}

/* Anything, as loud as it likes: ln(1 + e) has the density 1 / (1 + ln(1 + e))^2. */
static double ln_foreign(double e)
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

static double ln_plus(double a, double b)
{
    return fmax(a, b) + log1p(exp(-fabs(a - b)));
}

static double ln_with(double ln, double weight, double other)
{
    return ln_plus(log(1.0 - weight) + ln, log(weight) + other);
}

/* A window in which the tone is. */
static double ln_heard(double e, double g)
{
    return ln_with(ln_with(ln_tone(e, g), MISSING, ln_noise(e)), FOREIGN, ln_foreign(e));
}

/* What one window says of a sound of energy g. */
typedef double ln_density(double e, double g);

/* A sound that flickers like noise, or beeps too short to be told one by one. */
static double ln_flicker(double e, double g)
{
    return ln_with(-e / (1.0 + g) - log1p(g), FOREIGN, ln_foreign(e));
}

/* A tone that sounds in half of the windows, whichever. */
static double ln_half(double e, double g)
{
    return ln_with(ln_heard(e, g), 0.5, ln_heard(e, 0.0));
}

/* A sound in the beeps, and so much of its power in the pauses. */
static double ln_sounding(const struct thrum_keying_window *w, int n, ln_density *density, double power,
                          double in_pauses)
{
    double ln = 0.0;
    for (int i = 0; i < n; i++)
        ln += density(energy(&w[i]), power * (w[i].on ? 1.0 : in_pauses) / w[i].variance);
    return ln;
}

/* A tone that leaves out every second beep: a cadence twice as long. */
static double ln_every_second(const struct thrum_keying_window *w, int n, double power, int parity)
{
    double ln = 0.0;
    for (int i = 0, beep = 0; i < n; i++) {
        bool sounds = w[i].on && beep++ % 2 == parity;
        ln += ln_heard(energy(&w[i]), sounds ? power / w[i].variance : 0.0);
    }
    return ln;
}

static double ln_bursts(const struct thrum_keying_window *w, int n, double share)
{
    double ln = 0.0;
    for (int i = 0; i < n; i++)
        ln += ln_with(ln_noise(energy(&w[i])), share, ln_foreign(energy(&w[i])));
    return ln;
}

/* Power of the beeps, weighted by what each can tell; at least a tenth of the least noise. */
static double likeliest_power(const struct thrum_keying_window *w, int n)
{
    double sum = 0.0, weight = 0.0, least = 1e300;
    for (int i = 0; i < n; i++) {
        least = fmin(least, w[i].variance);
        if (!w[i].on)
            continue;
        sum += (w[i].power - w[i].variance) / w[i].variance;
        weight += 1.0 / w[i].variance;
    }
    return fmax(sum / fmax(weight, 1e-300), 0.1 * least);
}

struct thrum_keying_odds thrum_keying_weigh(const struct thrum_keying_window *windows, int n)
{
    static const double hardly[] = {0.0, 0.03}, more[] = {0.3, 0.6, 1.0}, shares[] = {0.1, 0.4, 0.8};
    double about, keyed = -1e300, pauses = -1e300, bursts = -1e300;
    if (n == 0)
        return (struct thrum_keying_odds){0.0, 0.0, 0.0};
    about = likeliest_power(windows, n);
    for (int k = -STEPS; k <= STEPS; k++) {
        double power = about * exp(STEP_LN * k);
        for (int i = 0; i < 2; i++)
            keyed = fmax(keyed, ln_sounding(windows, n, ln_heard, power, hardly[i]));
        for (int i = 0; i < 3; i++) {
            pauses = fmax(pauses, ln_sounding(windows, n, ln_heard, power, more[i]));
            pauses = fmax(pauses, ln_sounding(windows, n, ln_flicker, power, more[i]));
        }
        pauses = fmax(pauses, ln_sounding(windows, n, ln_half, power, 1.0));
        for (int i = 0; i < 2; i++)
            pauses = fmax(pauses, ln_every_second(windows, n, power, i));
    }
    for (int i = 0; i < 3; i++)
        bursts = fmax(bursts, ln_bursts(windows, n, shares[i]));
    return (struct thrum_keying_odds){keyed - ln_bursts(windows, n, FOREIGN), keyed - bursts, keyed - pauses};
}
