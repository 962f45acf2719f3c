/* Sound from a file or a pipe: reading it, and the doors to it. The original is never touched. */
#define _FILE_OFFSET_BITS 64
#include "sound/file_source.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/wide.h"
#include "sound/marks_journal.h"
#include "sound/message.h"
#include "sound/spool.h"

#define PIPE_WAIT_MS 50

void file_note(struct file_source *f, const char *text)
{
    text_set(f->source.info.note, sizeof f->source.info.note, 1, "%s", text);
}

/* ---- reading ---------------------------------------------------------------------------------- */

/* How many frames can be read without being kept waiting; 0 with *ended false means: none yet. */
static size_t frames_there(struct file_source *f, size_t max_frames, bool *ended)
{
    struct bytes *b = &f->bytes;
    *ended = false;
    if (!b->pipe)
        return max_frames;
    b->holding = false;
    if (f->raw_frame_bytes == 0) {
        size_t few = (size_t)f->format.samplerate / 25;
        return max_frames < few ? max_frames : few;
    }
    int64_t at = b->window_first + b->position;
    int64_t left = b->window_end - at;
    size_t wanted = max_frames * f->raw_frame_bytes;
    wanted = left < (int64_t)wanted ? (size_t)left : wanted;
    size_t there = wanted > 0 ? bytes_wait(b, at, wanted, PIPE_WAIT_MS) / f->raw_frame_bytes : 0;
    *ended = there == 0 && (b->ended || wanted < f->raw_frame_bytes);
    return there < max_frames ? there : max_frames;
}

static void note_the_end(struct file_source *f)
{
    struct stat now;
    char text[128];
    bool growing = !f->bytes.pipe && fstat(f->bytes.fd, &now) == 0 && (int64_t)now.st_size > f->bytes.size;
    if (growing) {
        file_note(f, "the file is still growing; read as far as it went");
    } else if (f->promised > f->frames_read) {
        text_set(text, sizeof text, 0, "cut short: the header says %llu frames, %llu could be read",
                 (unsigned long long)f->promised, (unsigned long long)f->frames_read);
        file_note(f, text);
    }
    f->source.info.frames = f->frames_read;
    if (f->bytes.pipe)
        bytes_drain(&f->bytes);
}

enum { SHORTS = 4096 };

/* Numbers of 16 bits, made samples here: the same values as libsndfile gives, many at once. */
THRUM_WIDE static void from_shorts(const short *numbers, size_t n, float *samples)
{
    for (size_t i = 0; i < n; i++)
        samples[i] = (float)numbers[i] * (1.0f / 32768.0f);
}

static size_t read_shorts(struct file_source *f, float *samples, size_t n_frames)
{
    short numbers[SHORTS];
    size_t channels = (size_t)f->format.channels, few = SHORTS / channels, done = 0, wanted, got;
    do {
        wanted = n_frames - done < few ? n_frames - done : few;
        sf_count_t came = sf_readf_short(f->snd, numbers, (sf_count_t)wanted);
        got = came > 0 ? (size_t)came : 0;
        from_shorts(numbers, got * channels, samples + done * channels);
        done += got;
    } while (got == wanted && done < n_frames);
    return done;
}

static size_t read_frames(struct file_source *f, float *samples, size_t n_frames)
{
    if ((f->format.format & SF_FORMAT_SUBMASK) == SF_FORMAT_PCM_16 && f->format.channels <= SHORTS)
        return read_shorts(f, samples, n_frames);
    sf_count_t got = sf_readf_float(f->snd, samples, (sf_count_t)n_frames);
    return got > 0 ? (size_t)got : 0;
}

static void file_read(struct thrum_source *source, float *samples, size_t max_frames,
                      struct thrum_source_block *block)
{
    struct file_source *f = (struct file_source *)source;
    bool ended = f->ended;
    size_t wanted = ended ? 0 : frames_there(f, max_frames, &ended);
    if (wanted > 0) {
        block->frames = read_frames(f, samples, wanted);
        ended = block->frames == 0;
    }
    if (f->scale != 1.0f) // NOLINT: set to exactly 1 or not
        for (size_t i = 0; i < block->frames * (size_t)source->info.channels; i++)
            samples[i] *= f->scale;
    f->frames_read += block->frames;
    if (!ended)
        return;
    if (f->bytes.error && !f->ended) {
        char why[80];
        text_errno(why, sizeof why, f->bytes.error);
        source_failed(block,
                      "%s: reading stopped after %.1f s: %s; copy the file to this machine and try again",
                      f->shown, (double)f->frames_read / source->info.rate_hz, why);
    } else {
        if (!f->ended)
            note_the_end(f);
        block->event = THRUM_SOURCE_END;
    }
    f->ended = true;
}

static void file_close(struct thrum_source *source)
{
    struct file_source *f = (struct file_source *)source;
    if (f->snd)
        sf_close(f->snd);
    bytes_close(&f->bytes);
    free(f);
}

/* ---- opening ---------------------------------------------------------------------------------- */

static enum thrum_status make(int fd, bool pipe, int64_t size, const char *path, struct file_source **made,
                              struct thrum_message *message)
{
    struct file_source *f = calloc(1, sizeof *f);
    *made = f;
    if (!f || !bytes_open(&f->bytes, fd, pipe, size)) {
        if (!f && fd > 0)
            close(fd);
        free(f);
        *made = NULL;
        message_set(message, "not enough memory to read a sound; close other programs");
        return THRUM_ERR_MEM;
    }
    const char *slash = strrchr(path, '/');
    f->scale = 1.0f;
    f->is_stdin = strcmp(path, "-") == 0;
    f->source.read = file_read;
    f->source.close = file_close;
    text_path(f->shown, sizeof f->shown, f->is_stdin ? "standard input" : path);
    text_set(f->source.info.name, sizeof f->source.info.name, 0, "%s", slash && slash[1] ? slash + 1 : path);
    return THRUM_OK;
}

/* A pipe whose content needs a file: it is put into a temporary one, and that is read. */
static enum thrum_status respool(struct file_source *f, struct thrum_message *message)
{
    int fd = -1;
    int64_t size = 0;
    enum thrum_status status = spool_pipe(&f->bytes, &fd, &size, message);
    bytes_close(&f->bytes);
    if (status == THRUM_OK && !bytes_open(&f->bytes, fd, false, size)) {
        message_set(message, "not enough memory to read a sound; close other programs");
        status = THRUM_ERR_MEM;
    }
    return status;
}

static enum thrum_status open_fd(int fd, const char *path, struct thrum_source **source,
                                 struct thrum_message *message)
{
    struct stat about;
    struct file_source *f = NULL;
    bool known = fstat(fd, &about) == 0;
    bool regular = known && S_ISREG(about.st_mode);
    enum thrum_status status = make(fd, !regular, regular ? (int64_t)about.st_size : 0, path, &f, message);
    if (status == THRUM_OK && f->bytes.pipe && file_needs_seeking(f))
        status = respool(f, message);
    if (status == THRUM_OK)
        status = file_open_content(f, message);
    if (status == THRUM_OK) {
        *source = &f->source;
        return THRUM_OK;
    }
    thrum_source_close(f ? &f->source : NULL);
    return status;
}

enum thrum_status thrum_source_open_file(const char *path, struct thrum_source **source,
                                         struct thrum_message *message)
{
    struct stat about;
    char shown[160];
    char why[80];
    *source = NULL;
    message_set(message, "%s", "");
    text_path(shown, sizeof shown, path);
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0) {
        text_errno(why, sizeof why, errno);
        message_set(message, "%s: cannot be opened: %s; check the name and the permission", shown, why);
        return THRUM_ERR_FILE;
    }
    if (fstat(fd, &about) == 0 && S_ISDIR(about.st_mode)) {
        close(fd);
        message_set(message, "%s: is a folder; give the sound files in it, for example %s/*.wav", shown,
                    shown);
        return THRUM_ERR_FILE;
    }
    enum thrum_status status = open_fd(fd, path, source, message);
    struct thrum_mark *marks = NULL;
    size_t n = 0;
    /* A journal is taken away once all its marks are in the file: while there is one, those in the file may be half of it. */
    if (status == THRUM_OK && marks_journal_load(path, &marks, &n) && n > 0) {
        struct thrum_source *s = *source;
        free(s->marks);
        s->marks = marks;
        s->n_marks = n;
        file_note((struct file_source *)s, "marks taken from the journal beside the file");
    } else {
        free(marks);
    }
    return status;
}

enum thrum_status thrum_source_open_stdin(struct thrum_source **source, struct thrum_message *message)
{
    *source = NULL;
    message_set(message, "%s", "");
    if (isatty(STDIN_FILENO)) {
        message_set(message, "standard input is a terminal: pipe a sound file into it, or give a file name");
        return THRUM_ERR_FILE;
    }
    if (lseek(STDIN_FILENO, 0, SEEK_CUR) > 0)
        (void)lseek(STDIN_FILENO, 0, SEEK_SET);
    return open_fd(STDIN_FILENO, "-", source, message);
}
