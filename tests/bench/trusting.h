/* Whether an input is to be trusted: how often a good one is marked, how often a bad one is found. */
#ifndef THRUM_BENCH_TRUSTING_H
#define THRUM_BENCH_TRUSTING_H

#include <stdbool.h>
#include <stdint.h>

void bench_trusting(bool full, uint64_t seed);

#endif
