#define _FILE_OFFSET_BITS 64
#include "sound/flac_copy.h"

#include <errno.h>
#include <fcntl.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sound/marks_journal.h"
#include "sound/message.h"
#include "sound/recorder_files.h"

#define BLOCK_SAMPLES 8192
#define MOST_CHANNELS 8
#define LAST_NUMBER   999

struct copy {
    const char *wav;
    char unfinished[1024]; /* the copy's path until it has been checked */
    SF_INFO info;
    SNDFILE *from;
    int32_t a[BLOCK_SAMPLES], b[BLOCK_SAMPLES];
};

/* ---- what it says of itself ------------------------------------------------------------------- */

/* The first line, then the marks. malloc'ed. */
static char *make_comment(const struct thrum_source *source)
{
    size_t n = thrum_source_marks(source, NULL, 0);
    struct thrum_mark *marks = calloc(n + 1, sizeof *marks);
    const char *about = thrum_source_about(source);
    if (marks)
        thrum_source_marks(source, marks, n);
    char *lines = marks ? marks_to_text(marks, n) : NULL;
    size_t size = (lines ? strlen(lines) : 0) + strlen(about) + 4;
    char *comment = lines ? malloc(size) : NULL;
    if (comment)
        snprintf(comment, size, "%s\n%s", about[0] ? about : "{}", lines);
    free(lines);
    free(marks);
    return comment;
}

static bool same_marks(const struct thrum_source *a, const struct thrum_source *b)
{
    size_t n = thrum_source_marks(a, NULL, 0);
    struct thrum_mark *marks = calloc(2 * n + 1, sizeof *marks);
    bool same = marks && thrum_source_marks(b, NULL, 0) == n;
    if (same) {
        thrum_source_marks(a, marks, n);
        thrum_source_marks(b, marks + n, n);
    }
    for (size_t i = 0; same && i < n; i++) {
        const struct thrum_mark *x = &marks[i], *y = &marks[n + i];
        same = x->first == y->first && x->end == y->end && strcmp(x->label, y->label) == 0;
    }
    free(marks);
    return same;
}

/* ---- writing ---------------------------------------------------------------------------------- */

static int write_samples(struct copy *c, SNDFILE *to)
{
    sf_count_t room = BLOCK_SAMPLES / c->info.channels, got;
    sf_count_t left = c->info.frames;
    while ((got = sf_readf_int(c->from, c->a, room)) > 0) {
        errno = 0;
        if (sf_writef_int(to, c->a, got) != got)
            return errno ? errno : EIO;
        left -= got;
    }
    return left == 0 ? 0 : EIO;
}

/* 0 or errno; -1: libsndfile cannot. */
static int write_copy(struct copy *c, int fd, const char *comment)
{
    SF_INFO info = {.samplerate = c->info.samplerate,
                    .channels = c->info.channels,
                    .format = SF_FORMAT_FLAC | SF_FORMAT_PCM_24};
    SNDFILE *to = sf_format_check(&info) ? sf_open_fd(fd, SFM_WRITE, &info, SF_FALSE) : NULL;
    if (!to)
        return -1;
    const char *software = sf_get_string(c->from, SF_STR_SOFTWARE),
               *date = sf_get_string(c->from, SF_STR_DATE);
    sf_set_string(to, SF_STR_COMMENT, comment);
    if (software)
        sf_set_string(to, SF_STR_SOFTWARE, software);
    if (date)
        sf_set_string(to, SF_STR_DATE, date);
    int error = write_samples(c, to);
    int closed = sf_close(to);
    if (error == 0 && closed != 0)
        error = EIO;
    if (fsync(fd) != 0 && error == 0 && errno != EINVAL)
        error = errno;
    return error;
}

/* ---- checking --------------------------------------------------------------------------------- */

static bool same_samples(struct copy *c)
{
    SF_INFO info = {.format = 0};
    SNDFILE *copy = sf_open(c->unfinished, SFM_READ, &info);
    bool same = copy && info.frames == c->info.frames && info.channels == c->info.channels &&
                info.samplerate == c->info.samplerate && sf_seek(c->from, 0, SEEK_SET) == 0;
    sf_count_t room = BLOCK_SAMPLES / c->info.channels, got = 1;
    while (same && got > 0) {
        got = sf_readf_int(c->from, c->a, room);
        same = sf_readf_int(copy, c->b, room) == got &&
               memcmp(c->a, c->b, (size_t)got * (size_t)c->info.channels * sizeof c->a[0]) == 0;
    }
    if (copy)
        sf_close(copy);
    return same;
}

static bool is_right(struct copy *c, const struct thrum_source *source)
{
    struct thrum_source *copy;
    struct thrum_message ignored;
    if (!same_samples(c) || thrum_source_open_file(c->unfinished, &copy, &ignored) != THRUM_OK)
        return false;
    bool same =
        same_marks(source, copy) && (thrum_source_about(source)[0] == '\0' ||
                                     strcmp(thrum_source_about(source), thrum_source_about(copy)) == 0);
    thrum_source_close(copy);
    return same;
}

/* A name that is free; link() never replaces a file, which rename() would. Where there are no links, it is looked for. */
static int give_name(const struct copy *c, char *flac, size_t size)
{
    size_t length = strlen(c->wav);
    length -= length > 4 && strcmp(c->wav + length - 4, ".wav") == 0 ? 4 : 0;
    int error = EEXIST;
    for (int number = 1; error == EEXIST && number <= LAST_NUMBER; number++) {
        char ending[16] = ".flac";
        struct stat about;
        if (number > 1)
            snprintf(ending, sizeof ending, "_%d.flac", number);
        if ((size_t)snprintf(flac, size, "%.*s%s", (int)length, c->wav, ending) >= size)
            return ENAMETOOLONG;
        error = link(c->unfinished, flac) == 0 ? 0 : errno;
        if (error == 0)
            (void)unlink(c->unfinished);
        else if (error == EPERM || error == ENOTSUP || error == ENOSYS)
            error = lstat(flac, &about) == 0 ? EEXIST : rename(c->unfinished, flac) == 0 ? 0 : errno;
    }
    return error;
}

/* ---- all of it -------------------------------------------------------------------------------- */

static int copy_and_check(struct copy *c, const struct thrum_source *source, char *flac, size_t size)
{
    struct stat owner;
    char *comment = make_comment(source);
    int fd = comment ? open(c->unfinished, O_RDWR | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0666) : -1;
    int error = !comment ? ENOMEM : fd < 0 ? errno : 0;
    if (error == 0) {
        if (geteuid() == 0 && stat(c->wav, &owner) == 0)
            (void)!fchown(fd, owner.st_uid, owner.st_gid);
        error = write_copy(c, fd, comment);
        if (close(fd) != 0 && error == 0)
            error = errno;
        if (error == 0 && !is_right(c, source))
            error = EIO;
        if (error == 0)
            error = give_name(c, flac, size);
        if (error != 0)
            (void)unlink(c->unfinished);
    }
    free(comment);
    return error;
}

static enum thrum_status say_why(const char *wav, int error, struct thrum_message *message)
{
    char shown[200];
    char why[80];
    text_path(shown, sizeof shown, wav);
    text_errno(why, sizeof why, error);
    if (error < 0) {
        message_set(
            message,
            "there is no FLAC copy of %s: FLAC cannot be written here (up to %d channels); the WAV stays",
            shown, MOST_CHANNELS);
        return THRUM_ERR_FORMAT;
    }
    message_set(message, "there is no FLAC copy of %s: %s; the WAV stays as it is", shown, why);
    return recording_status(error);
}

enum thrum_status thrum_flac_copy(const char *wav, char *flac, size_t size, struct thrum_message *message)
{
    struct thrum_source *source = NULL;
    struct copy *c = calloc(1, sizeof *c);
    int error = c ? 0 : ENOMEM;
    flac[0] = '\0';
    message_set(message, "%s", "");
    if (c && thrum_source_open_file(wav, &source, message) != THRUM_OK) {
        free(c);
        return THRUM_ERR_FILE;
    }
    if (c) {
        c->wav = wav;
        c->from = sf_open(wav, SFM_READ, &c->info);
        error = !c->from ? EIO : c->info.channels > MOST_CHANNELS ? -1 : 0;
        if ((size_t)snprintf(c->unfinished, sizeof c->unfinished, "%s.flac-unfinished", wav) >=
            sizeof c->unfinished)
            error = ENAMETOOLONG;
    }
    if (error == 0)
        error = copy_and_check(c, source, flac, size);
    if (c && c->from)
        sf_close(c->from);
    thrum_source_close(source);
    free(c);
    if (error != 0) {
        flac[0] = '\0';
        return say_why(wav, error, message);
    }
    return THRUM_OK;
}
