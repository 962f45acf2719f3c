/* One line on a terminal that says how far long work has come. */
#ifndef THRUM_PROGRESS_H
#define THRUM_PROGRESS_H

#include <stdint.h>

struct progress {
    char what[80];
    double began_s, shown_s; /* monotonic; shown_s = 0: nothing is on the terminal */
};

void progress_begin(struct progress *progress, const char *what);

/* At most ten times a second, and only once the work has taken a while. total = 0: not known. */
void progress_show(struct progress *progress, uint64_t frames, uint64_t total, double rate_hz);

/* The line is wiped. */
void progress_end(struct progress *progress);

/* The monotonic clock, in seconds. */
double clock_s(void);

#endif
