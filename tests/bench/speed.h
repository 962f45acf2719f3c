/* Figures of speed and memory; run them alone on the machine. */
#ifndef THRUM_BENCH_SPEED_H
#define THRUM_BENCH_SPEED_H

#include <stdbool.h>
#include <stdint.h>

void bench_ranking(bool full, uint64_t seed);   /* M12: the program THRUM on an hour of sound */
void bench_live(bool full, uint64_t seed);      /* M13: a live round */
void bench_transform(bool full, uint64_t seed); /* the transform beside FFTW's */

#endif
