/* A session in a thread of its own: it publishes what is known, and takes what the technician asks. */
#ifndef THRUM_WORKER_H
#define THRUM_WORKER_H

#include <stdbool.h>

#include "commands/session.h"

struct worker;

/* What the worker shows. */
struct worker_view {
    struct thrum_snapshot snapshot;
    uint64_t version; /* grows with every change */
    bool input_lost;
    bool ended; /* the session is finished; code and trouble stand */
    int code;
    struct thrum_message trouble; /* why code is not CODE_DONE */
    struct thrum_message message; /* the newest thing worth telling, or "" */
    double message_s;             /* when it was told, monotonic */
    bool stuck;                   /* no step for over a second; message says why */
    bool recording;               /* goes on */
    uint64_t recorded, lost;      /* frames */
    char moved[160];              /* as session_moved() */
    char input[160];              /* the one that sounds */
    struct thrum_offers offers;   /* inputs there were when a lost one was looked for */
    double came_hz;               /* the rate by the clock when the input says another one, else 0 */
};

/* Starts it; paced: sound is heard at the speed of life, for a file on a screen. NULL when it cannot be made. */
struct worker *worker_start(struct session *session, bool paced);

/* Asks for something; false when there is no room for it. Any thread. */
bool worker_ask(struct worker *worker, enum thrum_action action, const char *tag);

/* Asks for a lost input to be looked for at once, name "", or for another one in its place; as worker_ask(). */
bool worker_ask_input(struct worker *worker, const char *name);

/* Asks for the sender to be measured where it was found; as worker_ask(). */
bool worker_ask_follow(struct worker *worker);

/* Asks it to finish: what was heard is kept, the recording is closed. */
void worker_stop(struct worker *worker);

/* Copies what is known; when it is still that of *view, waits up to wait_s for something new. */
void worker_look(struct worker *worker, struct worker_view *view, double wait_s);

/* Readable for poll() when there is something new to look at, until the next look. */
int worker_fd(const struct worker *worker);

/* Waits until the session is finished, at most that long; then the worker is gone. False: it hangs, and is left. */
bool worker_join(struct worker *worker, double limit_s);

#endif
