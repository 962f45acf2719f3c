/* Figures of presence: how little tone is heard, and how rarely one is heard that is not there. */
#ifndef THRUM_BENCH_PRESENCE_H
#define THRUM_BENCH_PRESENCE_H

#include <stdbool.h>
#include <stdint.h>

void bench_presence(bool full, uint64_t seed);           /* M6, in noise */
void bench_presence_under_hum(bool full, uint64_t seed); /* M6, under hum 30 dB over the tone */

#endif
