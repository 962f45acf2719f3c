#define _FILE_OFFSET_BITS 64
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sound/bytes.h"
#include "sound/wav_fix.h"
#include "sound/wav_sink.h"

#define LIST_BYTES(label_bytes) (28u + 12u + (label_bytes))

static size_t label_bytes(const struct thrum_mark *mark)
{
    size_t n = strlen(mark->label) + 1;
    return n + n % 2;
}

/* cue with all points, then one LIST adtl with a labl (text) for each and after those an ltxt (length) for each:
 * libsndfile 1.2.0 reads no further than the first ltxt. */
static unsigned char *build_chunks(const struct thrum_mark *marks, size_t n, size_t *size)
{
    size_t list = 4;
    for (size_t i = 0; i < n; i++)
        list += LIST_BYTES(label_bytes(&marks[i]));
    size_t cue = 4 + 24 * n;
    *size = 8 + cue + 8 + list;
    unsigned char *out = calloc(1, *size);
    if (!out)
        return NULL;
    unsigned char *p = out;
    memcpy(p, "cue ", 4);
    wav_put32(p + 4, (uint32_t)cue);
    wav_put32(p + 8, (uint32_t)n);
    p += 12;
    for (size_t i = 0; i < n; i++, p += 24) {
        wav_put32(p, (uint32_t)(i + 1));
        wav_put32(p + 4, (uint32_t)marks[i].first);
        memcpy(p + 8, "data", 4);
        wav_put32(p + 20, (uint32_t)marks[i].first);
    }
    memcpy(p, "LIST", 4);
    wav_put32(p + 4, (uint32_t)list);
    memcpy(p + 8, "adtl", 4);
    p += 12;
    for (size_t i = 0; i < n; i++) {
        size_t text = strlen(marks[i].label) + 1;
        memcpy(p, "labl", 4);
        wav_put32(p + 4, (uint32_t)(4 + text));
        wav_put32(p + 8, (uint32_t)(i + 1));
        memcpy(p + 12, marks[i].label, text);
        p += 12 + text + text % 2;
    }
    for (size_t i = 0; i < n; i++) {
        uint64_t length = marks[i].end > marks[i].first ? marks[i].end - marks[i].first : 0;
        memcpy(p, "ltxt", 4);
        wav_put32(p + 4, 20);
        wav_put32(p + 8, (uint32_t)(i + 1));
        wav_put32(p + 12, (uint32_t)length);
        memcpy(p + 16, "rgn ", 4);
        p += 28;
    }
    return out;
}

static bool same_marks(const struct thrum_mark *a, const struct thrum_mark *b, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (a[i].first != b[i].first || a[i].end != b[i].end || strcmp(a[i].label, b[i].label) != 0)
            return false;
    return true;
}

/* Reads the file again as a stranger would. */
static int verify(int fd, const struct wav_layout *before, const struct thrum_mark *marks, size_t n)
{
    struct wav_layout l;
    struct stat about;
    struct bytes bytes;
    struct thrum_mark *found = NULL;
    size_t n_found = 0;
    int own = fstat(fd, &about) == 0 ? fcntl(fd, F_DUPFD_CLOEXEC, 3) : -1;
    if (own < 0)
        return errno;
    if (!bytes_open(&bytes, own, false, about.st_size))
        return ENOMEM;
    bool good = wav_walk(&bytes, &l) && l.data_first == before->data_first &&
                l.data_end == before->data_end && !l.repaired &&
                wav_read_marks(&bytes, &l, &found, &n_found) && n_found == n && same_marks(found, marks, n);
    bytes_close(&bytes);
    free(found);
    return good ? 0 : EIO;
}

static int embed(int fd, const struct thrum_mark *marks, size_t n)
{
    struct wav_layout l;
    int64_t size = 0;
    size_t more = 0;
    int error = wav_look(fd, &l, &size);
    if (error)
        return error;
    unsigned char *chunks = build_chunks(marks, n, &more);
    if (!chunks)
        return ENOMEM;
    int64_t at = size + size % 2;
    error = wav_write_at(fd, chunks, more, at);
    free(chunks);
    if (!error && fdatasync(fd) != 0)
        error = errno;
    if (!error)
        error = wav_set_size(fd, 4, at + (int64_t)more - 8);
    if (!error)
        error = verify(fd, &l, marks, n);
    if (error) {
        (void)wav_set_size(fd, 4, size - 8);
        (void)!ftruncate(fd, (off_t)size);
    }
    (void)fsync(fd);
    return error;
}

int wav_embed_marks(const char *path, const struct thrum_mark *marks, size_t n_marks)
{
    int fd = n_marks > 0 ? open(path, O_RDWR | O_CLOEXEC | O_NOFOLLOW) : -1;
    if (fd < 0)
        return n_marks > 0 ? errno : 0;
    int error = embed(fd, marks, n_marks);
    if (close(fd) != 0 && !error)
        error = errno;
    return error;
}
