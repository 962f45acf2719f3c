#include "listen/fading.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

enum { BEEPS = 64, PRIOR_N = 6 };

#define SKIP_S   0.008 /* of either end: the filter's slope, and the beep's own */
#define LOOK_S   0.06  /* so much of either end, but no more than a third of the beep */
#define SETTLE_S 0.12  /* a level control has settled by then, or by the middle of the beep */
#define USUAL_DB 0.4   /* scatter that is expected from beep to beep */
#define CLEAR    30.0  /* power over noise of a beep that is looked at, all of it together */
#define WIDTH_HZ 100.0 /* of the sound near the tone: so many independent values a second */
/* 2 (10 / ln 10)^2: variance in dB of one value's power, times its power over noise */
#define PER_NOISE_DB2 37.7
#define WIDTH_HZ      100.0 /* of the sound near the tone: so many independent values a second */
#define LN_DB2        37.7  /* (20 / ln 10)^2 / 2: variance in dB of a power that is off by its own size */

/* Mean power of z less the noise, from a to b seconds; negative where there is nothing to look at. */
static double power_in(const struct thrum_touchfit_near *near, double a, double b, double noise)
{
    double from = a * near->step_hz - (double)near->first, to = b * near->step_hz - (double)near->first;
    double sum = 0.0;
    int n = 0;
    for (double m = ceil(fmax(from, 0.0)); m <= to && m < (double)near->count; m += 1.0, n++)
        sum += cplx_power(near->z[(size_t)m]);
    return n > 0 ? sum / n - noise : -1.0;
}

/* Noise near the tone: what is there at the end of the pauses, which no beep's tail reaches; as the fit has it where there
 * are none. The fit counts what it cannot follow as noise, and beeps that fade are such. */
static double noise_near(const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result)
{
    struct thrum_touchfit_near near = thrum_touchfit_near(fit, 0);
    double sum = 0.0;
    int n = 0;
    for (int i = 0; i + 1 < result->n_beeps; i++) {
        double from = result->beep[i].to_s, to = result->beep[i + 1].from_s;
        if (to - from < LOOK_S)
            continue;
        double power = power_in(&near, to - 0.5 * (to - from), to - 2.0 * SKIP_S, 0.0);
        sum += fmax(power, 0.0);
        n++;
    }
    return n > 0 ? sum / n : result->noise;
}

struct fall {
    double whole_db, late_db;
    double noise_db2; /* variance of whole_db by noise */
};

static bool measure_beep(const struct thrum_touchfit_near *near, double from_s, double to_s, double noise,
                         struct fall *fall)
{
    double length = to_s - from_s, look = fmin(LOOK_S, length / 3.0);
    if (look < 2.0 * SKIP_S)
        return false;
    double middle_s = from_s + (0.5 * length > SETTLE_S + look ? SETTLE_S + 0.5 * look : 0.5 * length);
    double half = 0.5 * (look - SKIP_S);
    double early = power_in(near, from_s + SKIP_S, from_s + look, noise);
    double middle = power_in(near, middle_s - half, middle_s + half, noise);
    double late = power_in(near, to_s - look, to_s - SKIP_S, noise);
    double values = fmax(WIDTH_HZ * (look - SKIP_S), 1.0);
    if (early + middle + late < 3.0 * CLEAR * noise || early <= 0.0 || middle <= 0.0)
        return false;
    late = fmax(late, 0.1 * noise);
    *fall = (struct fall){10.0 * log10(early / late), 10.0 * log10(middle / late),
                          PER_NOISE_DB2 / values * noise * (1.0 / early + 1.0 / fmax(late, noise))};
    return true;
}

void thrum_fading_measure(const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                          struct thrum_fading_value *value)
{
    struct fall falls[BEEPS];
    double began = -1.0, sum = 0.0, scatter = PRIOR_N * USUAL_DB * USUAL_DB;
    int n = 0, louder = 0;
    double noise = noise_near(fit, result);
    memset(value, 0, sizeof *value);
    for (int i = 0; i < result->n_beeps && n < BEEPS && !result->voice.steady; i++) {
        const struct thrum_beep *beep = &result->beep[i];
        struct thrum_touchfit_near near = thrum_touchfit_near(fit, beep->tone);
        if (beep->begins)
            began = beep->from_s;
        if (beep->ends && began >= 0.0 && measure_beep(&near, began, beep->to_s, noise, &falls[n]))
            n++;
        if (beep->ends)
            began = -1.0;
    }
    if (n == 0)
        return;
    value->n = n;
    value->least_db = falls[0].whole_db;
    for (int i = 0; i < n; i++) {
        sum += falls[i].whole_db;
        scatter += PRIOR_N * falls[i].noise_db2 / n;
        value->late_db += falls[i].late_db / n;
        value->least_db = fmin(value->least_db, falls[i].whole_db);
        louder += falls[i].whole_db > 0.0;
    }
    value->db = sum / n;
    for (int i = 0; i < n; i++)
        scatter += (falls[i].whole_db - value->db) * (falls[i].whole_db - value->db);
    value->sd_db = sqrt(scatter / (PRIOR_N + n - 1) / n);
    value->share = (double)louder / n;
}
