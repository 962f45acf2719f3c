#include "signal/ballistics.h"

#include <math.h>

#include "thrum/units.h"

struct thrum_ballistics thrum_ballistics_start(double rate_hz, double tau_s)
{
    return (struct thrum_ballistics){.gain = -expm1(-1.0 / (rate_hz * tau_s))};
}

void thrum_ballistics_step(struct thrum_ballistics *ballistics, double mean_square)
{
    ballistics->mean += ballistics->gain * (mean_square - ballistics->mean);
    if (ballistics->mean > ballistics->highest)
        ballistics->highest = ballistics->mean;
}

void thrum_ballistics_feed(struct thrum_ballistics *ballistics, const float *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        thrum_ballistics_step(ballistics, (double)x[i] * (double)x[i]);
}

/* AES17: a full-scale sine, mean square 1/2, reads 0. */
double thrum_ballistics_dbfs(const struct thrum_ballistics *ballistics)
{
    return thrum_db_from_power(2.0 * ballistics->mean);
}

double thrum_ballistics_highest_dbfs(const struct thrum_ballistics *ballistics)
{
    return thrum_db_from_power(2.0 * ballistics->highest);
}
