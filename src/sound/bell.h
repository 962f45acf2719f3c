/* Wakes one thread from another, through a descriptor that poll() takes beside others. */
#ifndef THRUM_SOUND_BELL_H
#define THRUM_SOUND_BELL_H

#include <stdbool.h>
#include <stdint.h>

struct bell {
    int listen, ring; /* the two ends of a pipe */
};

/* false: no descriptors are left; bell_free() is harmless then, and so are the others, but for waiting all of the time. */
bool bell_make(struct bell *bell);
void bell_free(struct bell *bell);

/* Never waits. Any thread. */
void bell_ring(const struct bell *bell);

/* Until it has rung since the last time, at most limit_ns. One thread. */
void bell_wait(const struct bell *bell, uint64_t limit_ns);

/* What poll() takes, readable when it has rung; then it is to be hushed. */
int bell_fd(const struct bell *bell);
void bell_hush(const struct bell *bell);

#endif
