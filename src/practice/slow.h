/* A slow random curve of mean 0 and standard deviation 1: white noise through two equal low-passes. */
#ifndef PRACTICE_SLOW_H
#define PRACTICE_SLOW_H

#include "practice/dice.h"

struct slow {
    double keep; /* pole of both low-passes */
    double gain; /* brings the standard deviation to 1 */
    double first, second;
};

/* step_s: time between values; correlation_s: where the autocorrelation is 1/e. Starts in mid-run. */
void slow_start(struct slow *slow, struct dice *dice, double step_s, double correlation_s);

double slow_next(struct slow *slow, struct dice *dice);

#endif
