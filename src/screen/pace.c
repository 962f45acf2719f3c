#include "screen/pace.h"

#include <ncurses.h>
#include <stdlib.h>
#include <sys/ioctl.h>

#define BITS_PER_BYTE 10.0 /* on a serial line: start and stop bit */
#define SHARE         0.8

/* Only a serial line has modem lines; a pseudo-terminal claims some baud rate, too. */
static bool is_serial(int fd)
{
    int lines;
    return ioctl(fd, TIOCMGET, &lines) == 0;
}

static bool is_remote(void)
{
    return getenv("SSH_CONNECTION") || getenv("SSH_CLIENT") || getenv("SSH_TTY");
}

double pace_of_line(int fd)
{
    if (is_serial(fd))
        return SHARE * baudrate() / BITS_PER_BYTE;
    return is_remote() ? PACE_REMOTE_BYTES_S : 0.0;
}

bool pace_allows(const struct pace *pace, double now_s)
{
    return now_s >= pace->free_s;
}

void pace_drew(struct pace *pace, double now_s, size_t bytes)
{
    if (pace->bytes_s > 0.0)
        pace->free_s = now_s + (double)bytes / pace->bytes_s;
}
