#include "rows.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

void bench_heading(void)
{
    printf("%-4s %-58s %11s   %-20s %8s %9s  %s\n", "", "case", "value", "limit", "n", "+-", "reached");
}

static void line(const char *figure, const char *what, double value, const char *limit,
                 struct bench_sample sample, const char *verdict)
{
    char error[16] = "";
    if (sample.error > 0.0)
        snprintf(error, sizeof error, "%.4f", sample.error);
    printf("%-4s %-58s %11.4f   %-20s %8ld %9s  %s\n", figure, what, value, limit, sample.n, error, verdict);
    fflush(stdout);
}

static const char *verdict_of(double missed_by, double error)
{
    if (missed_by <= 0.0)
        return "yes";
    return missed_by < 2.0 * error ? "unsure" : "no"; /* NaN: no */
}

void bench_at_most(const char *figure, const char *what, double value, double limit,
                   struct bench_sample sample)
{
    char text[32];
    snprintf(text, sizeof text, "at most %.4g", limit);
    line(figure, what, value, text, sample, verdict_of(value - limit, sample.error));
}

void bench_at_least(const char *figure, const char *what, double value, double limit,
                    struct bench_sample sample)
{
    char text[32];
    snprintf(text, sizeof text, "at least %.4g", limit);
    line(figure, what, value, text, sample, verdict_of(limit - value, sample.error));
}

void bench_between(const char *figure, const char *what, double value, double low, double high,
                   struct bench_sample sample)
{
    char text[32];
    double missed_by = isnan(value) ? value : fmax(low - value, value - high);
    snprintf(text, sizeof text, "%.4g to %.4g", low, high);
    line(figure, what, value, text, sample, verdict_of(missed_by, sample.error));
}

void bench_judged(const char *figure, const char *what, double value, const char *limit,
                  struct bench_sample sample, bool reached)
{
    line(figure, what, value, limit, sample, reached ? "yes" : "no");
}

void bench_note(const char *figure, const char *what, double value, struct bench_sample sample)
{
    line(figure, what, value, "", sample, "-");
}

void bench_remark(const char *format, ...)
{
    va_list list;
    printf("     ");
    va_start(list, format);
    vprintf(format, list);
    va_end(list);
    printf("\n");
    fflush(stdout);
}

double bench_share_error(double share, long n)
{
    double p = fmin(fmax(share, 1.0 / (double)(n + 2)), 1.0 - 1.0 / (double)(n + 2));
    return sqrt(p * (1.0 - p) / (double)n);
}
