/* What was when: recordings one after the other, and the touches in them. */
#ifndef THRUM_PAPER_TIME_H
#define THRUM_PAPER_TIME_H

#include <stdbool.h>

/* One touch. */
struct paper_span {
    double from_s, to_s;
    const char *tag;
    bool heard;
    double dbfs; /* what was measured; where it was heard */
};

/* All of it stays the caller's. */
struct paper_time {
    const double *joint_s; /* [n_joints]: where one recording ends and the next begins */
    int n_joints;
    const struct paper_span *span; /* [n_spans], in the order of time */
    int n_spans;
};

#endif
