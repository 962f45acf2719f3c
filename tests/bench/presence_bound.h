/** @file presence_bound.h
 *  What no listener can beat who has to look for the beeps' phase.
 */
#ifndef BENCH_PRESENCE_BOUND_H
#define BENCH_PRESENCE_BOUND_H

#include <stdint.h>

/**
 * Share of touches of 3 s, beeps of 250/250 ms, heard by the likelihood ratio averaged over all phases of the cadence (by Neyman
 * and Pearson no test is better) at 1 false alarm in 1000. It knows the tone's frequency, its strength and the noise; each beep has a
 * phase of its own.
 *
 * @param[in] lambda  Noncentrality of all whole beeps: twice their energy over the noise.
 * @param[in] noises  Touches of noise alone that the threshold is taken from, at most 60000, at least 1000.
 */
double presence_bound_share(double lambda, long noises, long trials, uint64_t seed);

#endif
