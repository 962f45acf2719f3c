/* Being asked to stop from outside: Ctrl-C, TERM, HUP. */
#ifndef THRUM_STOP_H
#define THRUM_STOP_H

/* Sets the handlers, which only keep the signal's number, and lets writes to a closed pipe or beyond a file size limit
 * fail instead of ending the program. Call it once, before any thread is made. */
void stop_prepare(void);

/* The signal that asked, 0 for none. */
int stop_asked(void);

#endif
