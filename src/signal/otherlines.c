#include "signal/otherlines.h"

#include <math.h>

#include "thrum/units.h"

#define STEADY    20.0 /* evidence: noise is that steady once in e^20 */
#define OTHER_HZ  1.0  /* from all harmonics of the mains */
#define LOWEST_HZ (THRUM_TONE_MIN_HZ / 2.0)

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

int thrum_otherlines_list(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                          const double *tones_hz, int n_tones, double *hz, int most)
{
    float power[THRUM_MAINS_OTHERS];
    int n = 0;
    for (int k = (int)(LOWEST_HZ / lines->bin_hz); lines->count >= 3 && k + 1 < lines->bins; k++) {
        if (!is_line(lines, k) || (n == most && power[n - 1] >= lines->power[k]))
            continue;
        double at_hz = thrum_lines_hz(lines, k);
        if (thrum_lines_is_avoided(tones_hz, n_tones, at_hz) || is_harmonic(lines, mains, n_mains, at_hz))
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
