#include "commands/file_write.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool write_all(const char *text, size_t size, int fd)
{
    while (size > 0) {
        ssize_t n = write(fd, text, size);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        text += n;
        size -= (size_t)n;
    }
    return true;
}

bool file_write(const char *path, const char *text, size_t size)
{
    struct stat about;
    bool plain = lstat(path, &about) != 0 || S_ISREG(about.st_mode);
    size_t room = strlen(path) + 16;
    char *temporary = malloc(room);
    if (!temporary)
        return false;
    snprintf(temporary, room, "%s.part", path);
    int fd = plain ? open(temporary, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0666)
                   : open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    bool good = fd >= 0 && write_all(text, size, fd);
    if (good && plain)
        good = fsync(fd) == 0;
    if (fd >= 0 && close(fd) != 0)
        good = false;
    if (good && plain)
        good = rename(temporary, path) == 0;
    int why = errno;
    if (!good && plain && fd >= 0)
        unlink(temporary);
    free(temporary);
    errno = why;
    return good;
}
