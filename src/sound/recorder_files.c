#include "sound/recorder_files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#define LAST_NUMBER 999

/* Run by sudo: what is made belongs to the one who asked for it. */
static void give_to_invoker(int fd)
{
    const char *user = getenv("SUDO_UID");
    const char *group = getenv("SUDO_GID");
    if (geteuid() == 0 && user && group) {
        (void)!fchown(fd, (uid_t)strtoul(user, NULL, 10), (gid_t)strtoul(group, NULL, 10));
    }
}

int recording_folder(const char *folder)
{
    struct stat about;
    bool made = mkdir(folder, 0777) == 0;
    if (!made && errno != EEXIST) {
        return errno;
    }
    int fd = made ? open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        give_to_invoker(fd);
        close(fd);
    }
    if (stat(folder, &about) != 0) {
        return errno;
    }
    return S_ISDIR(about.st_mode) ? 0 : ENOTDIR;
}

double recording_room(const char *folder)
{
    struct statvfs about;
    if (statvfs(folder, &about) != 0 || about.f_blocks == 0) {
        return -1.0;
    }
    return (double)about.f_bavail * (double)(about.f_frsize ? about.f_frsize : about.f_bsize);
}

/* A journal without its recording is somebody's too. */
static bool journal_exists(const char *path)
{
    struct stat about;
    size_t length = strlen(path);
    char *journal = malloc(length + 7);
    if (!journal) {
        return false;
    }
    memcpy(journal, path, length);
    memcpy(journal + length, ".marks", 7);
    bool there = lstat(journal, &about) == 0;
    free(journal);
    return there;
}

int recording_new(const struct thrum_recorder_config *config, const char *stem, char **path,
                  struct wav_sink **sink)
{
    size_t size = strlen(config->folder) + strlen(stem) + 16;
    *sink = NULL;
    *path = malloc(size);
    int error = *path ? EEXIST : ENOMEM;
    for (int number = 1; error == EEXIST && number <= LAST_NUMBER; number++) {
        if (number == 1) {
            snprintf(*path, size, "%s/%s.wav", config->folder, stem);
        } else {
            snprintf(*path, size, "%s/%s_%d.wav", config->folder, stem, number);
        }
        if (!journal_exists(*path)) {
            error = wav_sink_open(*path, config->rate_hz, config->channels, config->about, sink);
            if (error == 0) {
                give_to_invoker(wav_sink_fd(*sink));
            }
        }
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
