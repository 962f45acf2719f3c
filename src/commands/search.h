/* Finding a voice where none was given. */
#ifndef THRUM_SEARCH_H
#define THRUM_SEARCH_H

#include <stdbool.h>

#include "commands/intake.h"
#include "thrum/learn.h"

/* Looks at one touch, or at part of it when it is long, and goes back to its beginning. */
int search_touch(struct intake *intake, struct thrum_learned *best, struct thrum_message *message);

/* Looks at the beginning of a walk, minutes of it if it must, and goes back. */
int search_walk(struct intake *intake, const char *name, struct thrum_learned *best,
                struct thrum_message *message);

#endif
