#include "sound/knock.h"

#include <time.h>

#define NS_PER_S 1000000000u

static bool make_cond(pthread_cond_t *cond)
{
    pthread_condattr_t attr;
    if (pthread_condattr_init(&attr) != 0)
        return false;
    bool made = pthread_condattr_setclock(&attr, CLOCK_MONOTONIC) == 0 && pthread_cond_init(cond, &attr) == 0;
    pthread_condattr_destroy(&attr);
    return made;
}

bool knock_make(struct knock *knock)
{
    knock->knocked = false;
    if (!make_cond(&knock->came))
        return false;
    if (pthread_mutex_init(&knock->lock, NULL) == 0)
        return true;
    pthread_cond_destroy(&knock->came);
    return false;
}

void knock_free(struct knock *knock)
{
    pthread_cond_destroy(&knock->came);
    pthread_mutex_destroy(&knock->lock);
}

void knock_once(struct knock *knock)
{
    pthread_mutex_lock(&knock->lock);
    knock->knocked = true;
    pthread_mutex_unlock(&knock->lock);
    pthread_cond_signal(&knock->came);
}

static struct timespec after(uint64_t ns)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    ns += (uint64_t)t.tv_nsec;
    t.tv_sec += (time_t)(ns / NS_PER_S);
    t.tv_nsec = (long)(ns % NS_PER_S);
    return t;
}

void knock_wait(struct knock *knock, uint64_t limit_ns)
{
    struct timespec until = after(limit_ns);
    int late = 0;
    pthread_mutex_lock(&knock->lock);
    while (!knock->knocked && late == 0)
        late = pthread_cond_timedwait(&knock->came, &knock->lock, &until);
    knock->knocked = false;
    pthread_mutex_unlock(&knock->lock);
}
