#include "sound/disk_sync.h"

#include <fcntl.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

struct disk_sync {
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t wake;
    int waiting; /* fd, or -1 */
    bool stop;
};

static void *run(void *own)
{
    struct disk_sync *s = own;
    pthread_mutex_lock(&s->lock);
    while (!s->stop) {
        if (s->waiting < 0) {
            pthread_cond_wait(&s->wake, &s->lock);
            continue;
        }
        int fd = s->waiting;
        s->waiting = -1;
        pthread_mutex_unlock(&s->lock);
        (void)fdatasync(fd);
        close(fd);
        pthread_mutex_lock(&s->lock);
    }
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

struct disk_sync *disk_sync_create(void)
{
    struct disk_sync *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->waiting = -1;
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->wake, NULL);
    if (pthread_create(&s->thread, NULL, run, s) != 0) {
        pthread_cond_destroy(&s->wake);
        pthread_mutex_destroy(&s->lock);
        free(s);
        return NULL;
    }
    return s;
}

void disk_sync_ask(struct disk_sync *s, int fd)
{
    if (!s)
        return;
    int own = fcntl(fd, F_DUPFD_CLOEXEC, 3);
    pthread_mutex_lock(&s->lock);
    int old = s->waiting;
    s->waiting = own;
    pthread_cond_signal(&s->wake);
    pthread_mutex_unlock(&s->lock);
    if (old >= 0)
        close(old);
}

void disk_sync_destroy(struct disk_sync *s)
{
    if (!s)
        return;
    pthread_mutex_lock(&s->lock);
    s->stop = true;
    pthread_cond_signal(&s->wake);
    pthread_mutex_unlock(&s->lock);
    pthread_join(s->thread, NULL);
    if (s->waiting >= 0)
        close(s->waiting);
    pthread_cond_destroy(&s->wake);
    pthread_mutex_destroy(&s->lock);
    free(s);
}
