#include "sound/bell.h"

#include <fcntl.h>
#include <unistd.h>

/* Neither end waits, and no program that is started from here inherits it. */
static bool set_up(int fd)
{
    return fcntl(fd, F_SETFL, O_NONBLOCK) == 0 && fcntl(fd, F_SETFD, FD_CLOEXEC) == 0;
}

bool bell_make(struct bell *bell)
{
    int end[2];
    *bell = (struct bell){-1, -1};
    if (pipe(end) != 0)
        return false;
    *bell = (struct bell){end[0], end[1]};
    if (set_up(end[0]) && set_up(end[1]))
        return true;
    bell_free(bell);
    return false;
}

void bell_free(struct bell *bell)
{
    if (bell->listen >= 0)
        close(bell->listen);
    if (bell->ring >= 0)
        close(bell->ring);
    *bell = (struct bell){-1, -1};
}

void bell_ring(const struct bell *bell)
{
    const char one = 1;
    ssize_t written = write(bell->ring, &one, 1);
    (void)written; /* a full pipe has rung already */
}

void bell_hush(const struct bell *bell)
{
    char rung[64];
    while (read(bell->listen, rung, sizeof rung) == (ssize_t)sizeof rung)
        ;
}

int bell_fd(const struct bell *bell)
{
    return bell->listen;
}
