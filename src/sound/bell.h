/* Wakes one thread from another, through a descriptor that poll() takes beside others. */
#ifndef THRUM_SOUND_BELL_H
#define THRUM_SOUND_BELL_H

#include <stdbool.h>

struct bell {
    int listen, ring; /* the two ends of a pipe */
};

/* false: no descriptors are left; bell_free() is harmless then; nothing else may be called. */
bool bell_make(struct bell *bell);
void bell_free(struct bell *bell);

/* Never waits. Any thread. */
void bell_ring(const struct bell *bell);

/* What poll() takes, readable when it has rung; then it is to be hushed. */
int bell_fd(const struct bell *bell);
void bell_hush(const struct bell *bell);

#endif
