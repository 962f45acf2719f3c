#include "sound/recorder_files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#define LAST_NUMBER 999

/* Run by sudo: what is made belongs to the one who asked for it. */
static void give_away(int fd, const struct thrum_recorder_config *config)
{
    if (config->owner_uid != 0 && geteuid() == 0)
        (void)!fchown(fd, (uid_t)config->owner_uid, (gid_t)config->owner_gid);
}

int recording_folder(const struct thrum_recorder_config *config)
{
    const char *folder = config->folder;
    struct stat about;
    bool made = mkdir(folder, 0777) == 0;
    if (!made && errno != EEXIST)
        return errno;
    int fd = made ? open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        give_away(fd, config);
        close(fd);
    }
    if (stat(folder, &about) != 0)
        return errno;
    return S_ISDIR(about.st_mode) ? 0 : ENOTDIR;
}

double recording_room(const char *folder)
{
    struct statvfs about;
    if (statvfs(folder, &about) != 0 || about.f_blocks == 0)
        return -1.0;
    return (double)about.f_bavail * (double)(about.f_frsize ? about.f_frsize : about.f_bsize);
}

/* A journal without its recording is somebody's too. */
static bool journal_exists(const char *path)
{
    struct stat about;
    size_t length = strlen(path);
    char *journal = malloc(length + 7);
    if (!journal)
        return false;
    memcpy(journal, path, length);
    memcpy(journal + length, ".marks", 7);
    bool there = lstat(journal, &about) == 0;
    free(journal);
    return there;
}

/* "2026-05-04T06:07:08" at a frame, in UTC. false when nobody knows. */
static bool time_of_frame(const struct thrum_recorder_config *config, uint64_t frame, int64_t *unix_ms)
{
    *unix_ms = config->start_unix_ms + (int64_t)((double)frame / config->rate_hz * 1000.0 + 0.5);
    return config->start_unix_ms > 0;
}

/* What the file says of itself: the JSON object of the whole recording, the part's own facts put into it. malloc'ed. */
static char *describe(const struct thrum_recorder_config *config, const struct recording_part *part,
                      int64_t unix_ms)
{
    const char *about = config->about;
    size_t length = about ? strlen(about) : 0;
    while (length > 0 && about[length - 1] != '}')
        length--;
    size_t size = length + 200;
    char *text = malloc(size);
    if (!text)
        return NULL;
    bool empty = length < 2 || about[length - 2] == '{';
    size_t n = (size_t)snprintf(text, size, "%.*s%s\"part\":%d,\"first_frame\":%llu",
                                length > 0 ? (int)(length - 1) : 1, length > 0 ? about : "{",
                                empty ? "" : ",", part->number, (unsigned long long)part->first);
    if (unix_ms > 0) {
        time_t second = (time_t)(unix_ms / 1000);
        struct tm utc;
        n += gmtime_r(&second, &utc) ? strftime(text + n, size - n, ",\"start\":\"%Y-%m-%dT%H:%M:%S", &utc)
                                     : 0;
        n += (size_t)snprintf(text + n, size - n, ".%03dZ\"", (int)(unix_ms % 1000));
    }
    if (part->gap > 0) {
        n += (size_t)snprintf(text + n, size - n, ",\"gap_before_s\":%.6f",
                              (double)part->gap / config->rate_hz);
    }
    snprintf(text + n, size - n, "}");
    return text;
}

static int open_new(const struct thrum_recorder_config *config, const struct recording_part *part,
                    const char *path, struct wav_sink **sink)
{
    int64_t unix_ms;
    bool known = time_of_frame(config, part->first, &unix_ms);
    char *comment = config->about ? describe(config, part, known ? unix_ms : 0) : NULL;
    if (config->about && !comment)
        return ENOMEM;
    struct wav_about about = {
        .comment = comment, .software = config->software, .start_unix_ms = known ? unix_ms : 0};
    int error = wav_sink_open(path, config->rate_hz, config->channels, &about, sink);
    free(comment);
    if (error == 0)
        give_away(wav_sink_fd(*sink), config);
    return error;
}

int recording_new(const struct thrum_recorder_config *config, const char *stem,
                  const struct recording_part *part, char **path, struct wav_sink **sink)
{
    size_t size = strlen(config->folder) + strlen(stem) + 16;
    *sink = NULL;
    *path = malloc(size);
    int error = *path ? EEXIST : ENOMEM;
    for (int number = 1; error == EEXIST && number <= LAST_NUMBER; number++) {
        if (number == 1)
            snprintf(*path, size, "%s/%s.wav", config->folder, stem);
        else
            snprintf(*path, size, "%s/%s_%d.wav", config->folder, stem, number);
        if (!journal_exists(*path))
            error = open_new(config, part, *path, sink);
    }
    if (error) {
        free(*path);
        *path = NULL;
    }
    return error;
}

enum thrum_status recording_status(int error)
{
    switch (error) {
    case 0:
        return THRUM_OK;
    case ENOMEM:
        return THRUM_ERR_MEM;
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
    case EEXIST:
        return THRUM_ERR_FULL;
    default:
        return THRUM_ERR_FILE;
    }
}
