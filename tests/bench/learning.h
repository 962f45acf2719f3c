/* Figures of learning a voice. */
#ifndef THRUM_BENCH_LEARNING_H
#define THRUM_BENCH_LEARNING_H

#include <stdbool.h>
#include <stdint.h>

/* Prints rows: figure, what, value, limit, sample size. */
void bench_learning(bool full, uint64_t seed);

#endif
