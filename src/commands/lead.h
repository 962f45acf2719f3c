/* The one sound that learn and check listen to: the probe at a sender's own lead. */
#ifndef THRUM_LEAD_H
#define THRUM_LEAD_H

#include "commands/intake.h"

/*
 * Opens it, has it heard and closes it, with what the sound libraries print kept off the person's screen. from: a source
 * as for --from, or NULL; path: a file, "-" for standard input, or NULL. What cannot be opened is said. Returns what
 * heard() returns, or why nothing was.
 */
int lead_listen(const char *from, const char *path, int (*heard)(const void *job, struct intake *intake),
                const void *job);

#endif
