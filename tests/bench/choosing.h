/* The figures of choosing a wire: S1 to S5. */
#ifndef THRUM_BENCH_CHOOSING_H
#define THRUM_BENCH_CHOOSING_H

#include <stdbool.h>
#include <stdint.h>

/* Prints a row per figure: figure, value, limit, sample size, statistical error, reached. full: release sizes. */
void bench_choosing(bool full, uint64_t seed);

#endif
