#include "practice/slow.h"

#include <math.h> /* only sqrt and ceil, which are exact everywhere */

#include "practice/exact.h"

void slow_start(struct slow *slow, struct dice *dice, double step_s, double correlation_s)
{
    /* The autocorrelation of the pair is (1 + t/T) e^(-t/T): 1/e at t = 2.146 T. */
    double time_s = correlation_s / 2.146;
    double a = exact_exp(-step_s / time_s), b = 1.0 - a, c = 1.0 - a * a;
    double variance = b * b * b * b * (1.0 + a * a) / (c * c * c); /* sum of the squared impulse response */
    int run_in = (int)ceil(8.0 * time_s / step_s);
    *slow = (struct slow){.keep = a, .gain = 1.0 / sqrt(variance)};
    for (int i = 0; i < run_in; i++)
        slow_next(slow, dice);
}

double slow_next(struct slow *slow, struct dice *dice)
{
    slow->first += (1.0 - slow->keep) * (dice_quick_normal(dice) - slow->first);
    slow->second += (1.0 - slow->keep) * (slow->first - slow->second);
    return slow->second * slow->gain;
}
