#include "sound/host.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <time.h>

#define NS 1000000000u

struct call {
    pthread_mutex_t lock;
    pthread_cond_t finished;
    bool done;
    bool left; /* nobody waits any more */
    void (*work)(void *job);
    void *job;
};

/* Sound goes by while the laptop sleeps. */
#ifdef CLOCK_BOOTTIME
#define SOUND_CLOCK CLOCK_BOOTTIME
#else
#define SOUND_CLOCK CLOCK_MONOTONIC
#endif

static uint64_t read_clock(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (uint64_t)t.tv_sec * NS + (uint64_t)t.tv_nsec;
}

static uint64_t real_now(void *context)
{
    (void)context;
    return read_clock(SOUND_CLOCK);
}

static void real_sleep(void *context, uint64_t ns)
{
    struct timespec t = {.tv_sec = (time_t)(ns / NS), .tv_nsec = (long)(ns % NS)};
    (void)context;
    (void)nanosleep(&t, NULL); /* a signal may end it early: the callers look again anyway */
}

static void free_call(struct call *call)
{
    pthread_cond_destroy(&call->finished);
    pthread_mutex_destroy(&call->lock);
    free(call);
}

static void *run(void *own)
{
    struct call *call = own;
    call->work(call->job);
    pthread_mutex_lock(&call->lock);
    bool left = call->left;
    call->done = true;
    pthread_cond_signal(&call->finished);
    pthread_mutex_unlock(&call->lock);
    if (left) {
        free(call->job);
        free_call(call);
    }
    return NULL;
}

static struct call *make_call(void (*work)(void *job), void *job)
{
    pthread_condattr_t attributes;
    struct call *call = calloc(1, sizeof *call);
    if (!call)
        return NULL;
    call->work = work;
    call->job = job;
    pthread_mutex_init(&call->lock, NULL);
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_cond_init(&call->finished, &attributes);
    pthread_condattr_destroy(&attributes);
    return call;
}

static bool real_bounded(void *context, void (*work)(void *job), void *job, uint64_t limit_ns)
{
    pthread_t thread;
    sigset_t all;
    sigset_t before;
    struct call *call = make_call(work, job);
    if (!call) {
        free(job);
        return false;
    }
    (void)context;
    uint64_t until_ns = read_clock(CLOCK_MONOTONIC) + limit_ns;
    struct timespec until = {.tv_sec = (time_t)(until_ns / NS), .tv_nsec = (long)(until_ns % NS)};
    sigfillset(&all); /* signals belong to the main thread */
    pthread_sigmask(SIG_BLOCK, &all, &before);
    int failed = pthread_create(&thread, NULL, run, call);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (failed) {
        free(job);
        free_call(call);
        return false;
    }
    pthread_mutex_lock(&call->lock);
    int waited = 0;
    while (!call->done && waited != ETIMEDOUT)
        waited = pthread_cond_timedwait(&call->finished, &call->lock, &until);
    bool done = call->done;
    call->left = !done;
    pthread_mutex_unlock(&call->lock);
    if (!done) {
        pthread_detach(thread);
        return false;
    }
    pthread_join(thread, NULL);
    free_call(call);
    return true;
}

struct sound_host sound_host_real(void)
{
    return (struct sound_host){.context = NULL,
                               .now_ns = real_now,
                               .sleep_ns = real_sleep,
                               .bounded = real_bounded,
                               .threads = true};
}
