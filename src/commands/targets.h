/* The files of a round, one touch each, and the wires they belong to. */
#ifndef THRUM_TARGETS_H
#define THRUM_TARGETS_H

#include <stdbool.h>

#include "sound/source.h"
#include "thrum/units.h"

struct target {
    const char *path; /* "-" for standard input */
    bool tagged;      /* as TAG=FILE */
    char tag[THRUM_WIRE_TAG_SIZE];
    char touch[96]; /* the tag with what follows its ~: no two files may share it */
};

/* Takes FILE or TAG=FILE, n times. *targets is the caller's, to be freed. CODE_DONE, or CODE_USAGE with a message. */
int targets_read(char *const *arguments, int n, struct target **targets, struct thrum_message *message);

/* Whether a is a later part of the recording that b is a part of, by their names. */
bool target_comes_after(const struct target *a, const struct target *b);

#endif
