#include "signal/keying.h"

#include <math.h>

#include "signal/keying_own.h"

#define STEP_LN 0.46 /* strengths tried: 2 dB apart... */
#define STEPS   4    /* ...on either side of the likeliest */

static double energy(const struct thrum_keying_window *window)
{
    return window->power / window->variance;
}

/* What one window says of a sound of energy g. */
typedef double ln_density(double e, double g);

/* A sound that flickers like noise, or beeps too short to be told one by one. */
static double ln_flicker(double e, double g)
{
    return thrum_keying_ln_with(-e / (1.0 + g) - log1p(g), THRUM_KEYING_FOREIGN, thrum_keying_ln_foreign(e));
}

/* A tone that sounds in half of the windows, whichever. */
static double ln_half(double e, double g)
{
    return thrum_keying_ln_with(thrum_keying_ln_heard(e, g), 0.5, thrum_keying_ln_heard(e, 0.0));
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
        ln += thrum_keying_ln_heard(energy(&w[i]), sounds ? power / w[i].variance : 0.0);
    }
    return ln;
}

static double ln_bursts(const struct thrum_keying_window *w, int n, double share)
{
    double ln = 0.0;
    for (int i = 0; i < n; i++)
        ln += thrum_keying_ln_with(thrum_keying_ln_noise(energy(&w[i])), share,
                                   thrum_keying_ln_foreign(energy(&w[i])));
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
            keyed = fmax(keyed, ln_sounding(windows, n, thrum_keying_ln_heard, power, hardly[i]));
        for (int i = 0; i < 3; i++) {
            pauses = fmax(pauses, ln_sounding(windows, n, thrum_keying_ln_heard, power, more[i]));
            pauses = fmax(pauses, ln_sounding(windows, n, ln_flicker, power, more[i]));
        }
        pauses = fmax(pauses, ln_sounding(windows, n, ln_half, power, 1.0));
        for (int i = 0; i < 2; i++)
            pauses = fmax(pauses, ln_every_second(windows, n, power, i));
    }
    for (int i = 0; i < 3; i++)
        bursts = fmax(bursts, ln_bursts(windows, n, shares[i]));
    return (struct thrum_keying_odds){keyed - ln_bursts(windows, n, THRUM_KEYING_FOREIGN), keyed - bursts,
                                      keyed - pauses};
}
