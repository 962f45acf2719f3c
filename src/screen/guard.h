/* Keeps the terminal's first state, and puts it back whatever happens: one path for leaving, dying, stopping.
 *
 * One guard per process, because there is one terminal and one set of signal handlers; its state is the only
 * file-level state of the screen. What runs in handlers is async-signal-safe.
 */
#ifndef THRUM_SCREEN_GUARD_H
#define THRUM_SCREEN_GUARD_H

#include <stdbool.h>

/* What the process was asked to do by a signal. */
enum guard_wish {
    GUARD_NOTHING,
    GUARD_STOP,  /* TSTP */
    GUARD_GO_ON, /* CONT: redraw everything */
    GUARD_QUIT   /* INT, TERM, HUP; a handler that was there before is called too */
};

/* Saves the terminal on tty_fd and installs the handlers. False when a guard is up already or tty_fd is none.
 * Standard error goes to log_fd until the guard goes; -1: it is left alone. */
bool guard_begin(int tty_fd, int log_fd);

/* What has to be written to leave the screen, from terminfo; call once the terminal is known. Copied. */
void guard_add_leaving(const char *sequence);

/* A wish that has come and has not been told yet. */
enum guard_wish guard_wish(void);

/* False while the terminal belongs to another job: then nothing may be written to it or read from it. */
bool guard_has_terminal(void);

/* Standard error back to where it was, and to the log again: around a stop. */
void guard_release_stderr(void);
void guard_divert_stderr(void);

/* What leaving takes, without modes: for a terminal that a shell has taken back already. Safe in handlers. */
void guard_write_leaving(void);

/* While held, setting a terminal that has just been taken away does not stop this thread half-way. */
void guard_hold_background(bool hold);

/* Stops the job, as the terminal would have; returns when it goes on. */
void guard_stop_job(void);

/* Starts a terminal that is stopped with Ctrl-S. */
void guard_let_flow(void);

/* Terminal modes, standard error and handlers as they were. Writes nothing. */
void guard_end(void);

#endif
