/** @file quiet.h
 *  Keeps the chatter of the sound libraries off the terminal.
 *
 *  They write to file descriptor 2 when they start, and later from threads of their own, so a live command keeps it
 *  pointed elsewhere as long as it runs, and writes its own messages to thrum_quiet_stream(). Main thread only.
 */
#ifndef THRUM_QUIET_H
#define THRUM_QUIET_H

#include <stdio.h>

struct thrum_quiet;

/** From now on standard error goes to log_path (appended), or nowhere when that is NULL or cannot be written.
 *  NULL when it could not be done: everything stays as it is. */
struct thrum_quiet *thrum_quiet_begin(const char *log_path);

/** The true standard error, unbuffered; stderr when quiet is NULL. */
FILE *thrum_quiet_stream(struct thrum_quiet *quiet);

/** The true standard error is back. NULL is allowed. */
void thrum_quiet_end(struct thrum_quiet *quiet);

#endif
