/* Being asked to stop from outside: Ctrl-C, TERM, HUP. */
#ifndef THRUM_STOP_H
#define THRUM_STOP_H

#include <stdbool.h>

/* Sets the handlers, which only keep the signal's number, and lets writes to a closed pipe or beyond a file size limit
 * fail instead of ending the program. Call it once, before any thread is made. */
void stop_prepare(void);

/* The signal that asked, 0 for none. */
int stop_asked(void);

/* It was asked again, at least a tenth of a second later: what has not been written is to be left. Where that may be seen to
 * too late, a program that has no screen to put back is ended by the signal itself. */
bool stop_insisted(void);

/* Whether asking twice ends the program at once: at first it does not, since somebody may look with stop_insisted(). */
void stop_ends_at_once(bool yes);

#endif
