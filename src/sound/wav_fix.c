#define _FILE_OFFSET_BITS 64
#include "sound/wav_fix.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sound/bytes.h"

void wav_put32(unsigned char *p, uint32_t value)
{
    for (int i = 0; i < 4; i++)
        p[i] = (unsigned char)(value >> (8 * i));
}

int wav_write_at(int fd, const unsigned char *data, size_t size, int64_t at)
{
    size_t done = 0;
    while (done < size) {
        ssize_t put = pwrite(fd, data + done, size - done, (off_t)(at + (int64_t)done));
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return put < 0 ? errno : EIO;
        done += (size_t)put;
    }
    return 0;
}

int wav_set_size(int fd, int64_t at, int64_t size)
{
    unsigned char four[4];
    wav_put32(four, (uint32_t)size);
    return wav_write_at(fd, four, sizeof four, at);
}

/* Walks the file behind fd without taking fd over. 0 or errno. */
int wav_look(int fd, struct wav_layout *layout, int64_t *size)
{
    struct stat about;
    struct bytes bytes;
    int own = fstat(fd, &about) == 0 ? fcntl(fd, F_DUPFD_CLOEXEC, 3) : -1;
    if (own < 0)
        return errno;
    *size = about.st_size;
    if (!bytes_open(&bytes, own, false, about.st_size))
        return ENOMEM;
    bool good = wav_walk(&bytes, layout) && layout->has_format && layout->has_data && layout->frame_bytes > 0;
    bytes_close(&bytes);
    return good ? 0 : EIO;
}

int wav_fix_end(int fd, uint64_t frames)
{
    struct wav_layout l;
    int64_t size = 0;
    int error = wav_look(fd, &l, &size);
    if (error)
        return error;
    int64_t whole = (size - l.data_first) / l.frame_bytes;
    if (frames < (uint64_t)whole)
        whole = (int64_t)frames;
    int64_t end = l.data_first + whole * l.frame_bytes;
    int64_t padded = end + (end - l.data_first) % 2;
    if (ftruncate(fd, (off_t)end) != 0)
        return errno;
    if (padded > end) {
        unsigned char zero = 0;
        error = wav_write_at(fd, &zero, 1, end);
        padded = error ? end : padded;
    }
    int first = wav_set_size(fd, l.data_first - 4, end - l.data_first);
    int second = wav_set_size(fd, 4, padded - 8);
    return first ? first : second;
}
