/* The recordings of a round heard once more, for how loud each sender was when. */
#ifndef THRUM_LEVELS_HEARD_H
#define THRUM_LEVELS_HEARD_H

#include <stdbool.h>
#include <stddef.h>

#include "commands/findings.h"
#include "thrum/units.h"

#define LEVELS_STEP_S 0.1

/* One recording after the other, as if they were one. Zeroed it is empty. */
struct levels_heard {
    int n_senders;
    size_t n, room;
    /* The bar [n], every LEVELS_STEP_S; NaN while the hum was not known yet */
    float *dbfs[THRUM_MAX_SENDERS];
    int n_files;
    const char **path; /* [n_files], borrowed */
    double *begin_s;   /* [n_files]: where each begins */
};

/* Hears the recordings. The findings are theirs: its senders are listened for, and followed from touch to touch. What cannot be opened
 * or heard adds nothing. False when there was no memory; levels_free() in both cases. */
bool levels_hear(struct levels_heard *levels, const struct findings *findings, const char *const *path,
                 int n_files);
void levels_free(struct levels_heard *levels);

/* When reading i begins, on the time of all recordings; below 0 when its recording is not among them. */
double levels_when(const struct levels_heard *levels, const struct findings *findings, int i);

#endif
