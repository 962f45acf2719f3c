/* The figure of several senders at once: S6. */
#ifndef THRUM_BENCH_SENDERS_H
#define THRUM_BENCH_SENDERS_H

#include <stdbool.h>
#include <stdint.h>

void bench_senders(bool full, uint64_t seed);

#endif
