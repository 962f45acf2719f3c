/* Figures of hum: the mains frequency, and what is left of hum in the cleaned sound. */
#ifndef THRUM_BENCH_HUM_H
#define THRUM_BENCH_HUM_H

#include <stdbool.h>
#include <stdint.h>

void bench_mains(bool full, uint64_t seed);    /* M9 */
void bench_cleaning(bool full, uint64_t seed); /* M10 */

#endif
