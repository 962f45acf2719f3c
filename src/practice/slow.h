/* A slow random curve of mean 0 and standard deviation 1: white noise through two equal low-passes. */
#ifndef PRACTICE_SLOW_H
#define PRACTICE_SLOW_H

#include "practice/chance.h"

struct slow {
    double keep; /* pole of both low-passes */
    double gain; /* brings the standard deviation to 1 */
    double first, second;
};

/* step_s: time between values; correlation_s: where the autocorrelation has fallen to 1/e. Starts in its stride. */
void slow_start(struct slow *slow, struct chance *chance, double step_s, double correlation_s);

double slow_next(struct slow *slow, struct chance *chance);

#endif
