/* Wakes one thread from another in the same program; a fraction of the price of a bell, where nothing else is waited for. */
#ifndef THRUM_SOUND_KNOCK_H
#define THRUM_SOUND_KNOCK_H

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

struct knock {
    pthread_mutex_t lock;
    pthread_cond_t came;
    bool knocked; /* since the last wait ended */
};

/* false: the system has no room for it; then it must not be used nor freed. */
bool knock_make(struct knock *knock);

/* Nobody waits any longer. */
void knock_free(struct knock *knock);

/* Any thread. Waits for no more than the few instructions in which the other one looks. */
void knock_once(struct knock *knock);

/* Until it was knocked since the last wait, at most limit_ns of the monotonic clock. One thread. */
void knock_wait(struct knock *knock, uint64_t limit_ns);

#endif
