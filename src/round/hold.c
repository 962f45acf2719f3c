#include "round/hold.h"

#include <math.h>

#define BEEPS      4   /* fewer do not show how the hand wobbles: their interval is too narrow */
#define SHORTEST_S 2.0 /* or so many cycles of the cadence: */
#define SHORTEST   3.0
#define SILENT_S   4.0 /* nothing heard for so long: no use to wait */
#define SILENT     6.0
#define LONGEST_S  10.0 /* nobody holds longer */
#define LONGEST    12.0
#define PATIENCE_S 6.0 /* more than that to go, after SILENT_S: hopeless */

static struct hold on(double left_s)
{
    return (struct hold){.state = THRUM_HOLD_ON, .left_s = fmax(left_s, 0.1)};
}

static struct hold over(enum thrum_hold state)
{
    return (struct hold){.state = state};
}

static struct hold judge_heard(const struct thrum_strength *strength, double t, double silent_s,
                               double longest_s)
{
    double ratio = (strength->high_db - strength->low_db) / HOLD_NARROW_DB;
    double left_s = t * (ratio * ratio - 1.0);
    if (!(left_s > 0.0))
        return over(THRUM_HOLD_NARROW);
    if ((t >= silent_s && left_s > PATIENCE_S) || t >= longest_s)
        return over(THRUM_HOLD_HOPELESS);
    return on(fmin(left_s, longest_s - t));
}

static struct hold judge(const struct thrum_strength *strength, double t, double cycle_s, double best_low_db)
{
    double shortest_s = fmax(SHORTEST_S, SHORTEST * cycle_s), silent_s = fmax(SILENT_S, SILENT * cycle_s);
    double longest_s = fmax(LONGEST_S, LONGEST * cycle_s);
    if (t < shortest_s)
        return on(shortest_s - t);
    if (strength->high_db < best_low_db - HOLD_CLEAR_DB)
        return over(THRUM_HOLD_WEAKER);
    if (strength->heard && (strength->beeps >= BEEPS || t >= silent_s))
        return judge_heard(strength, t, silent_s, longest_s);
    return t < silent_s ? on(silent_s - t) : over(THRUM_HOLD_HOPELESS);
}

struct hold hold_judge(const struct thrum_reading *so_far, const double *cycle_s, const double *best_low_db)
{
    struct hold whole = over(THRUM_HOLD_WEAKER);
    double t = so_far->frames > 0 ? (double)so_far->frames / so_far->rate_hz : 0.0;
    for (int i = 0; i < so_far->n_senders; i++) {
        struct hold one = judge(&so_far->strength[i], t, cycle_s[i], best_low_db[i]);
        bool longer = one.state == THRUM_HOLD_ON && one.left_s > whole.left_s;
        if (longer || (whole.state != THRUM_HOLD_ON && one.state < whole.state))
            whole = one;
    }
    return so_far->n_senders > 0 ? whole : over(THRUM_HOLD_HOPELESS);
}
