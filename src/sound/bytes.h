/* Bytes of a file or of a pipe behind one face, as libsndfile wants it.
 *
 * A file is read with pread through one buffer; a window of it can be shown as if it were the whole file. A pipe
 * only goes forward; while "holding", everything read so far is kept, so that its head can be looked at twice.
 */
#ifndef THRUM_SOUND_BYTES_H
#define THRUM_SOUND_BYTES_H

#include <sndfile.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* As many bytes of a pipe's head are kept at most. */
#define BYTES_HOLD_MAX (8u << 20)
/* Length told for a pipe: longer than any sound, small enough to add to. */
#define BYTES_UNKNOWN (INT64_MAX / 4)

struct bytes {
    int fd; /* owned */
    bool pipe;
    bool holding;         /* pipe only */
    bool ended;           /* pipe only: read() has said 0 */
    int error;            /* errno of the first failed read, else 0 */
    int64_t size;         /* bytes in the file; BYTES_UNKNOWN for a pipe */
    int64_t window_first; /* what libsndfile sees as byte 0 */
    int64_t window_end;   /* one past the last byte that it sees */
    int64_t position;     /* of libsndfile, counted from window_first */
    unsigned char *buffer;
    size_t capacity;
    int64_t buffer_first; /* file position of buffer[0] */
    size_t buffered;
};

/* Takes fd over in every case. Returns false when there is no memory. */
bool bytes_open(struct bytes *bytes, int fd, bool pipe, int64_t size);
void bytes_close(struct bytes *bytes);

/* Reads count bytes at a file position; returns how many were there. A pipe reads forward only. */
size_t bytes_read_at(struct bytes *bytes, int64_t at, void *out, size_t count);

/* Pipe: wait at most timeout_ms for more bytes and take what is there. Returns bytes buffered from `at` on. */
size_t bytes_wait(struct bytes *bytes, int64_t at, size_t wanted, int timeout_ms);

/* Pipe: read and forget the rest, so that the writer does not fail; gives up when nothing comes for a second. */
void bytes_drain(struct bytes *bytes);

/* Shows [first, end) as the whole file to libsndfile. */
void bytes_set_window(struct bytes *bytes, int64_t first, int64_t end);

/* The calls that libsndfile needs; their user data is the struct bytes. */
extern const SF_VIRTUAL_IO bytes_for_sndfile;

#endif
