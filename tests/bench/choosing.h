/* The figures of choosing a wire: S1 to S5. */
#ifndef THRUM_BENCH_CHOOSING_H
#define THRUM_BENCH_CHOOSING_H

#include <stdbool.h>
#include <stdint.h>

/* Each prints a row per figure: figure, value, limit, sample size, statistical error, reached. full: release sizes. */
void bench_to_the_end(bool full, uint64_t seed);       /* S1 */
void bench_with_halves(bool full, uint64_t seed);      /* S1 */
void bench_honest(bool full, uint64_t seed);           /* S2 */
void bench_picked_at_once(bool full, uint64_t seed);   /* S3 */
void bench_most_that_can_be(bool full, uint64_t seed); /* beside S3 */
void bench_two_alike(bool full, uint64_t seed);        /* S4 */
void bench_no_tone(bool full, uint64_t seed);          /* S5, and what is called everywhere */

#endif
