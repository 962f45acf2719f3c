/* Figures of the live bar, M11. */
#ifndef THRUM_BENCH_LIVE_H
#define THRUM_BENCH_LIVE_H

#include <stdbool.h>
#include <stdint.h>

void bench_bar(bool full, uint64_t seed);

#endif
