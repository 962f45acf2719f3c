/* The clock, waiting and time-limited calls, in a table: tests put a virtual clock in its place. */
#ifndef THRUM_SOUND_HOST_H
#define THRUM_SOUND_HOST_H

#include <stdbool.h>
#include <stdint.h>

struct sound_host {
    void *context;
    /* Monotonic; runs on while the machine sleeps, where the system has such a clock. */
    uint64_t (*now_ns)(void *context);
    void (*sleep_ns)(void *context, uint64_t ns);
    /* Calls work(job) in a thread of its own and waits for it at most limit_ns. job is malloc'ed. true: it is done,
     * job is the caller's again. false: it is left to itself, and free(job) is done when it ever returns; or the
     * thread could not be made. */
    bool (*bounded)(void *context, void (*work)(void *job), void *job, uint64_t limit_ns);
    /* false: no capture thread; the reader does its steps while it waits. */
    bool threads;
};

struct sound_host sound_host_real(void);

#endif
