/* Touches that were taken before the listener has told where they end: each is to become one reading, not two.
 * A value; all zero is an empty one. */
#ifndef THRUM_ROUND_AHEAD_H
#define THRUM_ROUND_AHEAD_H

#include "thrum/listen.h"

#define AHEAD_MOST 16

#define AHEAD_NEW  (-1) /* found, and not taken yet */
#define AHEAD_DONE (-2) /* nothing more is to be made of it */

struct ahead {
    int n;
    struct {
        struct thrum_span span;
        int reading; /* index, or AHEAD_DONE */
    } touch[AHEAD_MOST];
};

/* A touch has been taken as this reading, which the found one may complete; AHEAD_DONE: it stays as it is. */
void ahead_add(struct ahead *ahead, struct thrum_span span, int reading);

/* That reading was dropped: what is found of it must not bring it back; those after it move up. */
void ahead_drop(struct ahead *ahead, int reading);

/* What a touch found is: the reading it completes, AHEAD_NEW or AHEAD_DONE. Found touches come in order. */
int ahead_found(struct ahead *ahead, struct thrum_span span);

/* The first reading that may still be completed; n when there is none. */
int ahead_first(const struct ahead *ahead, int n);

#endif
