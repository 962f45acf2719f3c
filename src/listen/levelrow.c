#include "listen/levelrow.h"

#include <math.h>

#include "signal/cplx.h"
#include "thrum/units.h"

#define PART_S     0.05  /* a lift of a third of a second shows, and there is time for a level under hum */
#define EDGE_S     0.008 /* left out at a beep's edges: the filter before smears them */
#define LEAST_S    0.012
#define MOST_SD_DB 3.0 /* a part that is not there has the level of the noise, give or take this */

static double offset_at(const struct thrum_touchfit_result *r, int tone, double from_middle_s)
{
    double slope = r->state.slope_hz_per_s * r->voice.tones_hz[tone] / r->voice.tones_hz[0];
    return r->state.tone_offset_hz[tone] + slope * from_middle_s;
}

/* Power of the tone in [from, to) of what is near it, and how many values that is. */
static double power_in(const struct thrum_touchfit_near *near, double offset_hz, double from_s, double to_s,
                       double *values)
{
    double first = fmax(ceil(from_s * near->step_hz - (double)near->first), 0.0);
    double end = fmin(ceil(to_s * near->step_hz - (double)near->first), (double)near->count);
    struct cplx sum = {0.0, 0.0}, now = {1.0, 0.0},
                turn = cplx_turn(-2.0 * THRUM_PI * offset_hz / near->step_hz);
    *values = fmax(end - first, 0.0);
    if (*values < 1.0)
        return 0.0;
    for (size_t m = (size_t)first; m < (size_t)end; m++) {
        sum = cplx_add(sum, cplx_mul(near->z[m], now));
        now = cplx_mul(now, turn);
    }
    return cplx_power(sum) / (*values * *values);
}

int thrum_levelrow_fill(const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                        double at_s, struct thrum_level *row, int max)
{
    struct thrum_touchfit_near near = thrum_touchfit_near(fit, 0);
    double length_s = (double)(near.first + near.count) / near.step_hz, t = 0.0;
    double middle_s = ((double)near.first + 0.5 * (double)near.count) / near.step_hz;
    int n = 0;
    while (n < max && t < length_s) {
        struct thrum_beep beep;
        if (!thrum_beeps_list(&result->voice, &result->timing, t, length_s, 1e9, &beep, 1))
            break;
        double edge = fmin(EDGE_S, 0.2 * (beep.to_s - beep.from_s));
        double from = beep.from_s + (beep.begins ? edge : 0.0), to = beep.to_s - (beep.ends ? edge : 0.0);
        int parts = (int)fmax(nearbyint((to - from) / PART_S), 1.0);
        near = thrum_touchfit_near(fit, beep.tone);
        t = fmax(beep.to_s, t + 1e-3);
        for (int p = 0; p < parts && n < max && to - from >= LEAST_S; p++) {
            double a = from + (to - from) * p / parts, b = from + (to - from) * (p + 1) / parts, values;
            double power =
                power_in(&near, offset_at(result, beep.tone, 0.5 * (a + b) - middle_s), a, b, &values);
            if (values < 1.0)
                continue;
            double noise = fmax(result->noise / values, 1e-30), tone = fmax(power - noise, noise);
            row[n++] = (struct thrum_level){
                .from_s = at_s + a,
                .to_s = at_s + b,
                .db = thrum_db_from_power(tone),
                .noise_db = thrum_db_from_power(noise),
                .sd_db = fmin(4.343 * sqrt(2.0 * tone * noise + noise * noise) / tone, MOST_SD_DB)};
        }
    }
    return n;
}
