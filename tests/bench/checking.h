/* What a check at one place, and single touches, tell of a bad input: level control, clipping before the converter, samples lost. */
#ifndef THRUM_BENCH_CHECKING_H
#define THRUM_BENCH_CHECKING_H

#include <stdbool.h>
#include <stdint.h>

void bench_checking(bool full, uint64_t seed);
void bench_clipping(bool full, uint64_t seed);
void bench_losing(bool full, uint64_t seed);

#endif
