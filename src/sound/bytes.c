#define _FILE_OFFSET_BITS 64
#include "sound/bytes.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

#define BUFFER_BYTES ((size_t)64 << 10)

bool bytes_open(struct bytes *bytes, int fd, bool pipe, int64_t size)
{
    memset(bytes, 0, sizeof *bytes);
    bytes->fd = fd;
    bytes->pipe = pipe;
    bytes->holding = pipe;
    bytes->size = pipe ? BYTES_UNKNOWN : size;
    bytes->window_end = bytes->size;
    bytes->capacity = BUFFER_BYTES;
    bytes->buffer = malloc(bytes->capacity);
    if (!bytes->buffer) {
        bytes_close(bytes);
        return false;
    }
    return true;
}

void bytes_close(struct bytes *bytes)
{
    if (bytes->fd > 0) /* standard input belongs to the program */
        close(bytes->fd);
    free(bytes->buffer);
    memset(bytes, 0, sizeof *bytes);
    bytes->fd = -1;
}

void bytes_set_window(struct bytes *bytes, int64_t first, int64_t end)
{
    bytes->window_first = first;
    bytes->window_end = end;
    bytes->position = 0;
}

static ssize_t read_again(int fd, void *out, size_t count, int64_t at)
{
    ssize_t got;
    do {
        got = at < 0 ? read(fd, out, count) : pread(fd, out, count, (off_t)at);
    } while (got < 0 && errno == EINTR);
    return got;
}

/* What lies before `at` may go when we are not holding; then there is room at the end. */
static bool make_room(struct bytes *b, int64_t at)
{
    if (!b->holding && at > b->buffer_first) {
        size_t gone = (size_t)(at - b->buffer_first);
        if (gone > b->buffered)
            gone = b->buffered;
        if (gone == b->buffered || b->buffered == b->capacity) {
            memmove(b->buffer, b->buffer + gone, b->buffered - gone);
            b->buffer_first += (int64_t)gone;
            b->buffered -= gone;
        }
    }
    if (b->buffered < b->capacity)
        return true;
    if (!b->holding || b->capacity >= BYTES_HOLD_MAX)
        return false;
    unsigned char *bigger = realloc(b->buffer, b->capacity * 2);
    if (!bigger)
        return false;
    b->buffer = bigger;
    b->capacity *= 2;
    return true;
}

/* One read from the pipe onto the end of the buffer. */
static bool pipe_more(struct bytes *b, int64_t at)
{
    if (b->ended || !make_room(b, at))
        return false;
    ssize_t got = read_again(b->fd, b->buffer + b->buffered, b->capacity - b->buffered, -1);
    if (got <= 0) {
        b->error = got < 0 && !b->error ? errno : b->error;
        b->ended = true;
        return false;
    }
    b->buffered += (size_t)got;
    return true;
}

static bool file_more(struct bytes *b, int64_t at)
{
    ssize_t got = read_again(b->fd, b->buffer, b->capacity, at);
    b->buffer_first = at;
    b->buffered = got > 0 ? (size_t)got : 0;
    if (got < 0 && !b->error)
        b->error = errno;
    return got > 0;
}

static size_t from_buffer(const struct bytes *b, int64_t at, unsigned char *out, size_t count)
{
    int64_t end = b->buffer_first + (int64_t)b->buffered;
    if (at < b->buffer_first || at >= end)
        return 0;
    size_t there = (size_t)(end - at);
    size_t take = count < there ? count : there;
    memcpy(out, b->buffer + (at - b->buffer_first), take);
    return take;
}

size_t bytes_read_at(struct bytes *b, int64_t at, void *out, size_t count)
{
    unsigned char *to = out;
    size_t done = 0;
    while (done < count) {
        int64_t here = at + (int64_t)done;
        size_t got = from_buffer(b, here, to + done, count - done);
        done += got;
        if (got > 0)
            continue;
        if (b->pipe) {
            if (here < b->buffer_first || !pipe_more(b, here))
                break;
        } else if (!file_more(b, here)) {
            break;
        }
    }
    return done;
}

size_t bytes_wait(struct bytes *b, int64_t at, size_t wanted, int timeout_ms)
{
    for (;;) {
        int64_t end = b->buffer_first + (int64_t)b->buffered;
        size_t there = end > at ? (size_t)(end - at) : 0;
        if (there >= wanted || b->ended)
            return there;
        struct pollfd ready = {.fd = b->fd, .events = POLLIN, .revents = 0};
        if (poll(&ready, 1, there ? 0 : timeout_ms) <= 0 || !pipe_more(b, at)) {
            end = b->buffer_first + (int64_t)b->buffered;
            return end > at ? (size_t)(end - at) : 0;
        }
    }
}

void bytes_drain(struct bytes *b)
{
    b->holding = false;
    while (!b->ended) {
        struct pollfd ready = {.fd = b->fd, .events = POLLIN, .revents = 0};
        if (poll(&ready, 1, 1000) <= 0 || !pipe_more(b, b->buffer_first + (int64_t)b->buffered))
            return;
    }
}

static sf_count_t io_length(void *user)
{
    const struct bytes *b = user;
    return (sf_count_t)(b->window_end - b->window_first);
}

static sf_count_t io_seek(sf_count_t offset, int whence, void *user)
{
    struct bytes *b = user;
    int64_t to = offset;
    if (whence == SEEK_CUR)
        to = b->position + offset;
    else if (whence == SEEK_END)
        to = b->window_end - b->window_first + offset;
    if (to < 0)
        return -1;
    b->position = to;
    return to;
}

static sf_count_t io_read(void *out, sf_count_t count, void *user)
{
    struct bytes *b = user;
    int64_t left = b->window_end - b->window_first - b->position;
    if (count <= 0 || left <= 0)
        return 0;
    size_t take = (size_t)(count < left ? count : left);
    size_t got = bytes_read_at(b, b->window_first + b->position, out, take);
    b->position += (int64_t)got;
    return (sf_count_t)got;
}

static sf_count_t io_write(const void *in, sf_count_t count, void *user)
{
    (void)in;
    (void)count;
    (void)user;
    return 0;
}

static sf_count_t io_tell(void *user)
{
    const struct bytes *b = user;
    return b->position;
}

const SF_VIRTUAL_IO bytes_for_sndfile = {io_length, io_seek, io_read, io_write, io_tell};
