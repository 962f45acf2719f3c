#define _FILE_OFFSET_BITS 64
#include "sound/spool.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "sound/message.h"

#define BLOCK ((size_t)64 << 10)

static bool write_all(int fd, const unsigned char *data, size_t size)
{
    while (size > 0) {
        ssize_t put = write(fd, data, size);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        data += put;
        size -= (size_t)put;
    }
    return true;
}

static int temporary(char *name, size_t size)
{
    const char *folder = getenv("TMPDIR");
    text_set(name, size, 0, "%s/thrum-spool-XXXXXX", folder && folder[0] ? folder : "/tmp");
    int fd = mkstemp(name);
    if (fd >= 0)
        (void)unlink(name);
    return fd;
}

enum thrum_status spool_pipe(struct bytes *pipe, int *fd, int64_t *size, struct thrum_message *message)
{
    char name[256];
    char why[80];
    unsigned char *block = malloc(BLOCK);
    *size = 0;
    *fd = block ? temporary(name, sizeof name) : -1;
    if (*fd < 0) {
        text_errno(why, sizeof why, errno);
        message_set(message, "standard input has to be put into a temporary file first, and that failed: %s",
                    why);
        free(block);
        return block ? THRUM_ERR_FILE : THRUM_ERR_MEM;
    }
    enum thrum_status status = THRUM_OK;
    size_t got;
    while (status == THRUM_OK && (got = bytes_read_at(pipe, *size, block, BLOCK)) > 0) {
        pipe->holding = false;
        if (*size + (int64_t)got > SPOOL_MAX_BYTES) {
            message_set(message,
                        "standard input: more than 2 GiB in a format that cannot be read as it comes; "
                        "save it to a file and give its name");
            status = THRUM_ERR_FULL;
        } else if (!write_all(*fd, block, got)) {
            text_errno(why, sizeof why, errno);
            message_set(message, "standard input: the temporary file in %s cannot be written: %s", name, why);
            status = THRUM_ERR_FULL;
        }
        *size += (int64_t)got;
    }
    free(block);
    if (status != THRUM_OK) {
        close(*fd);
        *fd = -1;
    }
    return status;
}
