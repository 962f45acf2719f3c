/* The two curves drawn in docs/: how far strengths are off, and how often a tone is heard, each beside its bound. */
#ifndef THRUM_BENCH_CURVES_H
#define THRUM_BENCH_CURVES_H

#include <stdbool.h>
#include <stdint.h>

/* Prints columns for a drawing program, one line a level: its decibels, values and their bounds. A line beginning with
 * # names the columns. false for an unknown name; the names are "strength" and "presence". */
bool bench_curve(const char *name, uint64_t seed);

#endif
