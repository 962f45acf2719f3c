/* What the sound libraries write to standard error while a round runs: kept in a file, its newest lines for the screen. Main
 * thread only; the libraries write from threads of their own at any time. */
#ifndef THRUM_CHATTER_H
#define THRUM_CHATTER_H

#include <stddef.h>

#include "screen/screen.h"

struct chatter {
    char path[64]; /* "" for nowhere */
    int fd;        /* to be read; -1 for nowhere */
};

/* A new file in TMPDIR or /tmp, for standard error to be appended to. */
void chatter_begin(struct chatter *chatter);

/* The file's newest lines, equal ones that follow each other as one with their number. Fills n_log and log. */
void chatter_newest(const struct chatter *chatter, struct thrum_screen_facts *facts);

/* Throws all but the newest 2 KiB away when the file has grown beyond 256 KiB: a driver that complains all day must not fill
 * the disk. To be called now and then. */
void chatter_bound(const struct chatter *chatter);

/* The file goes. */
void chatter_end(struct chatter *chatter);

#endif
