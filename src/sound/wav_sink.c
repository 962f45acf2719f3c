#define _FILE_OFFSET_BITS 64
#include "sound/wav_sink.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "sound/wav_fix.h"

#define BLOCK_SAMPLES 4096

struct wav_sink {
    int fd;
    int error; /* errno of the first write that failed */
    int channels;
    double rate_hz;
    int64_t position;
    int64_t size;
    SNDFILE *snd;
    uint64_t frames;
    uint64_t since_header;
    int32_t block[BLOCK_SAMPLES];
};

/* ---- what libsndfile calls -------------------------------------------------------------------- */

static sf_count_t io_length(void *user)
{
    const struct wav_sink *s = user;
    return s->size;
}

static sf_count_t io_seek(sf_count_t offset, int whence, void *user)
{
    struct wav_sink *s = user;
    int64_t to = whence == SEEK_SET ? offset : whence == SEEK_CUR ? s->position + offset : s->size + offset;
    if (to < 0)
        return -1;
    s->position = to;
    return to;
}

static sf_count_t io_read(void *out, sf_count_t count, void *user)
{
    struct wav_sink *s = user;
    ssize_t got = pread(s->fd, out, (size_t)count, (off_t)s->position);
    if (got > 0)
        s->position += got;
    return got > 0 ? got : 0;
}

static sf_count_t io_write(const void *data, sf_count_t count, void *user)
{
    struct wav_sink *s = user;
    const char *from = data;
    sf_count_t done = 0;
    while (done < count) {
        ssize_t put = pwrite(s->fd, from + done, (size_t)(count - done), (off_t)s->position);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0) {
            s->error = s->error ? s->error : put < 0 ? errno : EIO;
            break;
        }
        done += put;
        s->position += put;
        s->size = s->position > s->size ? s->position : s->size;
    }
    return done;
}

static sf_count_t io_tell(void *user)
{
    const struct wav_sink *s = user;
    return s->position;
}

/* ---- the file --------------------------------------------------------------------------------- */

/* EBU Tech 3285. The time reference counts samples since midnight. */
static void put_times(struct wav_sink *s, const struct wav_about *about)
{
    SF_BROADCAST_INFO bext;
    char text[32];
    struct tm utc;
    time_t second = (time_t)(about->start_unix_ms / 1000);
    if (about->start_unix_ms <= 0 || !gmtime_r(&second, &utc))
        return;
    memset(&bext, 0, sizeof bext);
    snprintf(bext.description, sizeof bext.description, "times are UTC");
    snprintf(bext.originator, sizeof bext.originator, "%s", about->software ? about->software : "");
    strftime(text, sizeof text, "%Y-%m-%d%H:%M:%S", &utc);
    memcpy(bext.origination_date, text, 10);
    memcpy(bext.origination_time, text + 10, 8);
    double since_midnight_s =
        (double)(about->start_unix_ms - (int64_t)second * 1000) / 1000.0 + (double)(second % 86400);
    uint64_t reference = (uint64_t)llround(since_midnight_s * s->rate_hz);
    bext.time_reference_low = (uint32_t)reference;
    bext.time_reference_high = (uint32_t)(reference >> 32);
    bext.version = 1;
    sf_command(s->snd, SFC_SET_BROADCAST_INFO, &bext, sizeof bext);
    text[10] = '\0';
    sf_set_string(s->snd, SF_STR_DATE, text);
}

static int set_up(struct wav_sink *s, const struct wav_about *about)
{
    SF_VIRTUAL_IO calls = {io_length, io_seek, io_read, io_write, io_tell};
    SF_INFO info = {.samplerate = (int)lround(s->rate_hz),
                    .channels = s->channels,
                    .format = SF_FORMAT_WAV | SF_FORMAT_PCM_24};
    s->snd = sf_open_virtual(&calls, SFM_WRITE, &info, s);
    if (!s->snd)
        return s->error ? s->error : EINVAL;
    sf_command(s->snd, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE);
    sf_command(s->snd, SFC_SET_CLIPPING, NULL, SF_TRUE);
    put_times(s, about);
    if (about->software)
        sf_set_string(s->snd, SF_STR_SOFTWARE, about->software);
    if (about->comment)
        sf_set_string(s->snd, SF_STR_COMMENT, about->comment);
    sf_command(s->snd, SFC_UPDATE_HEADER_NOW, NULL, 0);
    return s->error ? s->error : s->size < 44 ? EIO : 0;
}

int wav_sink_open(const char *path, double rate_hz, int channels, const struct wav_about *about,
                  struct wav_sink **sink)
{
    *sink = NULL;
    struct wav_sink *s = calloc(1, sizeof *s);
    if (!s)
        return ENOMEM;
    s->channels = channels;
    s->rate_hz = rate_hz;
    s->fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    int error = s->fd < 0 ? errno : set_up(s, about);
    if (error == 0) {
        *sink = s;
        return 0;
    }
    if (s->snd)
        sf_close(s->snd);
    if (s->fd >= 0) {
        close(s->fd);
        (void)unlink(path); /* ours, and nothing in it */
    }
    free(s);
    return error;
}

/* Exact for every sample that a 16- or 24-bit host can give. */
static int32_t to_24_bits(float sample)
{
    if (!isfinite(sample))
        return 0;
    double scaled = nearbyint((double)sample * 0x1p23);
    scaled = scaled > 0x1p23 - 1.0 ? 0x1p23 - 1.0 : scaled < -0x1p23 ? -0x1p23 : scaled;
    return (int32_t)scaled * 256; /* libsndfile takes the upper 24 of 32 bits */
}

int wav_sink_write(struct wav_sink *s, const float *samples, size_t n_frames, size_t *written)
{
    size_t channels = (size_t)s->channels;
    size_t room = BLOCK_SAMPLES / channels;
    *written = 0;
    while (*written < n_frames) {
        size_t n = n_frames - *written < room ? n_frames - *written : room;
        const float *from = samples + *written * channels;
        for (size_t i = 0; i < n * channels; i++)
            s->block[i] = to_24_bits(from[i]);
        sf_count_t put = sf_writef_int(s->snd, s->block, (sf_count_t)n);
        size_t whole = put > 0 ? (size_t)put : 0;
        *written += whole;
        s->frames += whole;
        s->since_header += whole;
        if (whole < n || s->error)
            return s->error ? s->error : EIO;
        if ((double)s->since_header >= s->rate_hz / 2.0) { /* so that a second holds with margin */
            s->since_header = 0;
            sf_command(s->snd, SFC_UPDATE_HEADER_NOW, NULL, 0);
        }
        if (s->error)
            return s->error;
    }
    return 0;
}

uint64_t wav_sink_frames(const struct wav_sink *sink)
{
    return sink->frames;
}

uint64_t wav_sink_give_back(struct wav_sink *s, uint64_t bytes)
{
    uint64_t frames = bytes / ((uint64_t)s->channels * WAV_SINK_SAMPLE_BYTES);
    frames = frames < s->frames ? frames : s->frames;
    s->frames -= frames;
    return frames;
}

int wav_sink_fd(const struct wav_sink *sink)
{
    return sink->fd;
}

int wav_sink_close(struct wav_sink *s)
{
    int failed = s->error;
    int closed = sf_close(s->snd);
    int fixed = wav_fix_end(s->fd, s->frames);
    int error = failed ? failed : s->error ? s->error : closed ? EIO : fixed;
    if (fsync(s->fd) != 0 && error == 0 && errno != EINVAL)
        error = errno;
    if (close(s->fd) != 0 && error == 0)
        error = errno;
    free(s);
    return error;
}
