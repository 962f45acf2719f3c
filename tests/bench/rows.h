/* One line of the benchmark's table: figure, case, value, limit, sample size with its statistical error, reached or not.
 * The last word of a line is the verdict; main.c counts those. */
#ifndef THRUM_BENCH_ROWS_H
#define THRUM_BENCH_ROWS_H

#include <stdbool.h>

/* How a value was come by. */
struct bench_sample {
    long n;       /* trials, touches, frames: what the value rests on */
    double error; /* one standard error of the value; 0 where it has none (a largest value, a time) */
};

void bench_heading(void);

/* "yes", "no", or "unsure": missed by less than two standard errors. NaN is never reached. */
void bench_at_most(const char *figure, const char *what, double value, double limit,
                   struct bench_sample sample);
void bench_at_least(const char *figure, const char *what, double value, double limit,
                    struct bench_sample sample);
void bench_between(const char *figure, const char *what, double value, double low, double high,
                   struct bench_sample sample);

/* A limit in words; the caller has judged. */
void bench_judged(const char *figure, const char *what, double value, const char *limit,
                  struct bench_sample sample, bool reached);

/* No limit is asked: for the reader. */
void bench_note(const char *figure, const char *what, double value, struct bench_sample sample);

/* A line of words below a row, printf-like. */
void bench_remark(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Standard error of a share found in n trials; never 0, so that 0 of n says what it can. */
double bench_share_error(double share, long n);

#endif
