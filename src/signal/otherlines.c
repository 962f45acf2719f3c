#include "signal/otherlines.h"

#include <math.h>

#include "thrum/units.h"

#define STEADY    20.0 /* evidence: noise is that steady once in e^20 */
#define OTHER_HZ  1.0  /* from all harmonics of the mains */
#define LOWEST_HZ (THRUM_TONE_MIN_HZ / 2.0)
#define NEAR_BEEP 1.6 /* bandwidths of a beep: so near a line is the beeps' own, however loud, ... */
#define BESIDE    2.0 /* ...farther off when no louder than this times what a side band can be */

static bool is_harmonic(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                        double hz)
{
    double half_s = 0.5 * lines->count * lines->hop_s;
    for (int i = 0; i < n_mains; i++) {
        double number = nearbyint(hz / mains[i].hz);
        double moved = number * fabs(mains[i].slope_hz_per_s) * half_s;
        if (fabs(hz - number * mains[i].hz) < OTHER_HZ + moved)
            return true;
    }
    return false;
}

static bool is_line(const struct thrum_lines *lines, int k)
{
    return lines->power[k] >= lines->power[k - 1] && lines->power[k] > lines->power[k + 1] &&
           thrum_lines_steady(lines, k) >= STEADY && thrum_lines_prominent(lines, k);
}

/* Power of the tone's own line: that of the loudest bin near it that no harmonic of the mains reaches. */
static float own_power(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                       double tone_hz)
{
    float most = 0.0f;
    for (int k = (int)((tone_hz - THRUM_LINES_AVOID_HZ) / lines->bin_hz);
         k <= (tone_hz + THRUM_LINES_AVOID_HZ) / lines->bin_hz; k++)
        if (k > 0 && k < lines->bins && lines->power[k] > most &&
            !is_harmonic(lines, mains, n_mains, k * lines->bin_hz))
            most = lines->power[k];
    return most;
}

/*
 * Where the oscillator runs on through the pauses, beeps of the length s are lines too: one on the tone and, d beside it,
 * others with at most 1 / (pi d s) of its amplitude (the Fourier series of what is switched at the beeps' two edges).
 */
static bool is_side_band(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                         const struct thrum_lines_tones *tones, int k, double at_hz)
{
    for (int i = 0; i < tones->n && tones->beep_s; i++) {
        double widths = fabs(at_hz - tones->hz[i]) * tones->beep_s[i], part = 1.0 / (THRUM_PI * widths);
        if (widths < NEAR_BEEP ||
            (double)lines->power[k] <
                BESIDE * part * part * (double)own_power(lines, mains, n_mains, tones->hz[i]))
            return true;
    }
    return false;
}

int thrum_otherlines_list(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                          const struct thrum_lines_tones *tones, double *hz, int most)
{
    float power[THRUM_MAINS_OTHERS];
    int n = 0;
    for (int k = (int)(LOWEST_HZ / lines->bin_hz); lines->count >= 3 && k + 1 < lines->bins; k++) {
        if (!is_line(lines, k) || (n == most && power[n - 1] >= lines->power[k]))
            continue;
        double at_hz = thrum_lines_hz(lines, k);
        if (thrum_lines_is_avoided(tones, at_hz) || is_harmonic(lines, mains, n_mains, at_hz) ||
            is_side_band(lines, mains, n_mains, tones, k, at_hz))
            continue;
        int i = n < most ? n++ : n - 1; /* the weakest goes when there is no room */
        for (; i > 0 && power[i - 1] < lines->power[k]; i--) {
            power[i] = power[i - 1];
            hz[i] = hz[i - 1];
        }
        power[i] = lines->power[k];
        hz[i] = at_hz;
    }
    return n;
}
