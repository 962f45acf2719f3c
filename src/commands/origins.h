/* Where a round comes from: when its recordings were begun and with which input, and the mains in it. */
#ifndef THRUM_ORIGINS_H
#define THRUM_ORIGINS_H

#include <stdbool.h>

#include "commands/findings.h"
#include "paper/review.h"

/* Zeroed it is empty. */
struct origins {
    int n;
    struct paper_origin *origin; /* [n]: of the recordings that say something of themselves, in order */
    char mains[120];             /* as a sentence */
};

/* The recordings, paths borrowed. What cannot be opened, and standard input, says nothing. False without memory; origins_free() in
 * both cases. */
bool origins_find(struct origins *origins, const struct findings *findings, const char *const *path,
                  int n_files);
void origins_free(struct origins *origins);

#endif
