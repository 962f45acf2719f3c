#include "commands/wav16.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define HEADER_BYTES 44
#define FULL_SCALE   32768.0
#define BLOCK        1024

static void put(unsigned char *at, uint32_t number, int bytes)
{
    for (int i = 0; i < bytes; i++)
        at[i] = (unsigned char)(number >> (8 * i) & 0xFFu);
}

static bool write_header(const struct wav16 *wav)
{
    unsigned char header[HEADER_BYTES];
    uint32_t bytes = 2 * wav->frames;
    memcpy(header, "RIFF....WAVEfmt ", 16);
    put(header + 4, HEADER_BYTES - 8 + bytes, 4);
    put(header + 16, 16, 4); /* length of the format */
    put(header + 20, 1, 2);  /* integers */
    put(header + 22, 1, 2);  /* channels */
    put(header + 24, wav->rate_hz, 4);
    put(header + 28, 2 * wav->rate_hz, 4);
    put(header + 32, 2, 2);  /* bytes of a frame */
    put(header + 34, 16, 2); /* bits of a sample */
    memcpy(header + 36, "data", 4);
    put(header + 40, bytes, 4);
    return fwrite(header, 1, sizeof header, wav->file) == sizeof header;
}

int wav16_open(const char *path, double rate_hz, bool replace, struct wav16 *wav)
{
    struct stat about;
    bool there = lstat(path, &about) == 0,
         plain = there && (S_ISREG(about.st_mode) || S_ISLNK(about.st_mode));
    memset(wav, 0, sizeof *wav);
    wav->rate_hz = (uint32_t)lround(rate_hz);
    if (replace && plain && unlink(path) != 0 && errno != ENOENT)
        return errno;
    /* What is no plain file (/dev/full) is written into, never taken away. */
    int fd = open(path, O_WRONLY | O_CREAT | (replace && there && !plain ? 0 : O_EXCL) | O_CLOEXEC, 0666);
    if (fd < 0)
        return errno;
    wav->file = fdopen(fd, "wb");
    if (!wav->file) {
        int why = errno;
        close(fd);
        return why;
    }
    return write_header(wav) ? 0 : errno;
}

int wav16_write(struct wav16 *wav, const float *samples, size_t n_frames)
{
    unsigned char bytes[2 * BLOCK];
    if ((uint64_t)wav->frames + n_frames > (UINT32_MAX - HEADER_BYTES) / 2)
        return EFBIG;
    while (n_frames > 0) {
        size_t n = n_frames < BLOCK ? n_frames : BLOCK;
        for (size_t i = 0; i < n; i++) {
            double sample = fmax(-FULL_SCALE, fmin(FULL_SCALE - 1.0, FULL_SCALE * (double)samples[i]));
            put(bytes + 2 * i, (uint32_t)(int32_t)lround(sample), 2);
        }
        if (fwrite(bytes, 2, n, wav->file) != n)
            return errno ? errno : EIO;
        wav->frames += (uint32_t)n;
        samples += n;
        n_frames -= n;
    }
    return 0;
}

void wav16_abandon(const char *path)
{
    struct stat about;
    if (lstat(path, &about) == 0 && S_ISREG(about.st_mode))
        unlink(path);
}

int wav16_close(struct wav16 *wav)
{
    int why = 0;
    if (!wav->file)
        return 0;
    errno = 0;
    if (fseek(wav->file, 0, SEEK_SET) != 0 || !write_header(wav) || fflush(wav->file) != 0)
        why = errno ? errno : EIO;
    if (fclose(wav->file) != 0 && !why)
        why = errno;
    wav->file = NULL;
    return why;
}
