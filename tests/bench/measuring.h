/* Figures of measuring one touch: strength, its interval. */
#ifndef THRUM_BENCH_MEASURING_H
#define THRUM_BENCH_MEASURING_H

#include <stdbool.h>
#include <stdint.h>

void bench_strength_noise(bool full, uint64_t seed);  /* M1, and M5 in those cases */
void bench_strength_hum(bool full, uint64_t seed);    /* M2, M3, and M5 there */
void bench_strength_on_hum(bool full, uint64_t seed); /* M4, and M5 there */

#endif
