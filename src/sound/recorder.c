#include "sound/recorder.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "sound/disk_sync.h"
#include "sound/marks_journal.h"
#include "sound/message.h"
#include "sound/recorder_files.h"
#include "sound/recorder_own.h"
#include "sound/wav_sink.h"

#define LEAST_ROOM_B 65536.0
#define ZERO_SAMPLES 8192
#define NOTES        1000
#define MARKS_ROOM_B 65536u /* of sound given up on a full disk, so that the marks fit */

struct recorder_limits recorder_limits_default(void)
{
    return (struct recorder_limits){
        .part_bytes = (uint64_t)2 << 30, .part_s = 3600.0, .gap_s = 2.0, .space_s = 5.0, .warn_s = 120.0};
}

static char *copy_text(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy)
        memcpy(copy, text, size);
    return copy;
}

static void destroy(struct thrum_recorder *r)
{
    if (!r)
        return;
    disk_sync_destroy(r->sync);
    for (int i = 0; i < r->n_parts; i++)
        free(r->part[i].path);
    free((char *)r->config.folder);
    free((char *)r->config.stem);
    free((char *)r->config.about);
    free((char *)r->config.software);
    free(r->stem);
    free(r);
}

static double frame_bytes(const struct thrum_recorder *r)
{
    return (double)r->config.channels * WAV_SINK_SAMPLE_BYTES;
}

static const struct part *last_part(const struct thrum_recorder *r)
{
    return &r->part[r->n_parts - 1];
}

static void look_at_room(struct thrum_recorder *r, struct thrum_message *message)
{
    double bytes = recording_room(r->config.folder);
    r->since_look_s = 0.0;
    r->room_s = bytes < 0.0 ? -1.0 : bytes / (frame_bytes(r) * r->config.rate_hz);
    if (bytes < 0.0 || r->room_s >= r->limits.warn_s) {
        r->warned = false;
    } else if (!r->warned) {
        r->warned = true;
        message_set(message, "the disk is nearly full: room for %.0f s more in %s; free some space",
                    r->room_s, r->config.folder);
    }
}

/* ---- beginning -------------------------------------------------------------------------------- */

static bool config_good(const struct thrum_recorder_config *c)
{
    return c->folder && c->folder[0] && c->stem && c->stem[0] && isfinite(c->rate_hz) &&
           c->rate_hz >= 2000.0 && c->rate_hz <= 768000.0 && c->channels >= 1 && c->channels <= 64;
}

static bool copy_config(struct thrum_recorder *r, const struct thrum_recorder_config *config)
{
    r->config = *config;
    char *stem = copy_text(config->stem);
    r->config.stem = stem;
    r->config.folder = copy_text(config->folder);
    r->config.about = config->about ? copy_text(config->about) : NULL;
    r->config.software = config->software ? copy_text(config->software) : NULL;
    for (char *p = stem; p && *p; p++)
        if (*p == '/' || (unsigned char)*p < 0x20)
            *p = '_';
    return stem && r->config.folder && (r->config.about || !config->about) &&
           (r->config.software || !config->software);
}

static int add_part(struct thrum_recorder *r, const char *stem)
{
    if (r->n_parts == RECORDER_PARTS)
        return EFBIG;
    struct part *p = &r->part[r->n_parts];
    struct recording_part about = {.number = r->n_parts + 1, .first = r->position, .gap = r->gap};
    int error = recording_new(&r->config, stem, &about, &p->path, &r->sink);
    if (error == 0) {
        p->first = r->position;
        p->frames = 0;
        p->gap = r->gap;
        r->gap = 0;
        r->n_parts++;
    }
    return error;
}

/* "take" out of "folder/take.wav" */
static char *stem_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *stem = copy_text(slash ? slash + 1 : path);
    if (stem && strlen(stem) > 4)
        stem[strlen(stem) - 4] = '\0';
    return stem;
}

static enum thrum_status refuse(const struct thrum_recorder *r, int error, struct thrum_message *message)
{
    char why[80];
    text_errno(why, sizeof why, error);
    if (error == EEXIST) {
        message_set(message, "%s/%s.wav and 998 numbered ones are there already; give another name",
                    r->config.folder, r->config.stem);
    } else if (error == ENOMEM) {
        message_set(message, "not enough memory to record; close other programs");
    } else if (recording_status(error) == THRUM_ERR_FULL) {
        message_set(message,
                    "NOT RECORDING: disk full: %s has no room; free some space or record to another folder",
                    r->config.folder);
    } else {
        message_set(message, "cannot record to %s: %s; check the folder and its permission", r->config.folder,
                    why);
    }
    return recording_status(error);
}

static int begin(struct thrum_recorder *r, struct thrum_message *message)
{
    int error = recording_folder(&r->config);
    if (error)
        return error;
    look_at_room(r, message);
    if (r->room_s >= 0.0 && r->room_s * frame_bytes(r) * r->config.rate_hz < LEAST_ROOM_B)
        return ENOSPC;
    error = add_part(r, r->config.stem);
    if (error)
        return error;
    r->stem = stem_of(r->part[0].path);
    r->sync = disk_sync_create();
    return r->stem ? 0 : ENOMEM;
}

enum thrum_status recorder_create_limited(const struct thrum_recorder_config *config,
                                          const struct recorder_limits *limits,
                                          struct thrum_recorder **recorder, struct thrum_message *message)
{
    *recorder = NULL;
    message_set(message, "%s", "");
    if (!config_good(config)) {
        message_set(message, "a recording needs a folder, a name, 2000 to 768000 Hz and 1 to 64 channels");
        return THRUM_ERR_ARG;
    }
    struct thrum_recorder *r = calloc(1, sizeof *r);
    int error = r && copy_config(r, config) ? 0 : ENOMEM;
    if (error) {
        message_set(message, "not enough memory to record; close other programs");
        destroy(r);
        return THRUM_ERR_MEM;
    }
    r->limits = *limits;
    r->room_s = -1.0;
    error = begin(r, message);
    if (error) {
        enum thrum_status status = refuse(r, error, message);
        if (r->sink)
            (void)wav_sink_close(r->sink);
        destroy(r);
        return status;
    }
    *recorder = r;
    return THRUM_OK;
}

enum thrum_status thrum_recorder_create(const struct thrum_recorder_config *config,
                                        struct thrum_recorder **recorder, struct thrum_message *message)
{
    struct recorder_limits limits = recorder_limits_default();
    return recorder_create_limited(config, &limits, recorder, message);
}

const char *thrum_recorder_path(const struct thrum_recorder *recorder)
{
    return last_part(recorder)->path;
}

uint64_t thrum_recorder_frames(const struct thrum_recorder *recorder)
{
    return recorder->frames;
}

uint64_t thrum_recorder_position(const struct thrum_recorder *recorder)
{
    return recorder->position;
}

int thrum_recorder_parts(const struct thrum_recorder *recorder)
{
    return recorder->n_parts;
}

const char *thrum_recorder_part(const struct thrum_recorder *recorder, int part)
{
    return recorder->part[part].path;
}

double thrum_recorder_room_s(const struct thrum_recorder *recorder)
{
    return recorder->room_s;
}

/* ---- writing ---------------------------------------------------------------------------------- */

/* Closes the part being written; its file is valid whatever happened before. */
static int end_part(struct thrum_recorder *r)
{
    int error = r->sink ? wav_sink_close(r->sink) : 0;
    r->sink = NULL;
    return error;
}

/* A touch is worth nothing without its mark. */
static void make_room_for_marks(struct thrum_recorder *r)
{
    struct part *part = &r->part[r->n_parts - 1];
    if (r->sink && (double)part->frames * frame_bytes(r) >= 4.0 * MARKS_ROOM_B) {
        uint64_t given = wav_sink_give_back(r->sink, MARKS_ROOM_B);
        part->frames -= given;
        r->frames -= given;
        r->position -= given;
    }
}

static enum thrum_status fail(struct thrum_recorder *r, int error)
{
    if (recording_status(error) == THRUM_ERR_FULL)
        make_room_for_marks(r);
    char why[80];
    char shown[200];
    double seconds = (double)r->frames / r->config.rate_hz;
    (void)end_part(r);
    text_errno(why, sizeof why, error);
    text_path(shown, sizeof shown, last_part(r)->path);
    r->failed = recording_status(error) == THRUM_ERR_FULL ? THRUM_ERR_FULL : THRUM_ERR_FILE;
    if (r->failed == THRUM_ERR_FULL) {
        message_set(
            &r->why,
            "NOT RECORDING: disk full (%s). The first %.1f s are safe in %s; free some space and start again",
            why, seconds, shown);
    } else {
        message_set(&r->why,
                    "NOT RECORDING: %s. The first %.1f s are safe in %s; check the disk and start again", why,
                    seconds, shown);
    }
    return r->failed;
}

static uint64_t part_room(const struct thrum_recorder *r)
{
    double by_bytes = floor((double)r->limits.part_bytes / frame_bytes(r));
    double by_time = floor(r->limits.part_s * r->config.rate_hz);
    uint64_t most = (uint64_t)(by_bytes < by_time ? by_bytes : by_time);
    most = most > 0 ? most : 1;
    return last_part(r)->frames < most ? most - last_part(r)->frames : 0;
}

/* An input that gave nothing leaves no file: the one before the newest. */
static void drop_empty_part(struct thrum_recorder *r)
{
    struct part *newest = &r->part[r->n_parts - 1], *empty = newest - 1;
    if (empty->frames > 0)
        return;
    (void)unlink(empty->path);
    marks_journal_remove(empty->path);
    free(empty->path);
    *empty = *newest;
    r->n_parts--;
}

static int next_part(struct thrum_recorder *r)
{
    int error = end_part(r);
    size_t size = strlen(r->stem) + 16;
    char *stem = malloc(size);
    if (error || !stem) {
        free(stem);
        return error ? error : ENOMEM;
    }
    snprintf(stem, size, "%s-part%d", r->stem, r->n_parts + 1);
    error = add_part(r, stem);
    free(stem);
    if (error == 0) {
        r->other = false;
        drop_empty_part(r);
    }
    return error;
}

static int write_frames(struct thrum_recorder *r, const float *samples, size_t n_frames)
{
    size_t done = 0;
    while (done < n_frames) {
        uint64_t room = r->gap > 0 || r->other ? 0 : part_room(r);
        if (room == 0) {
            int error = next_part(r);
            if (error)
                return error;
            continue;
        }
        size_t n = n_frames - done < room ? n_frames - done : (size_t)room;
        size_t written = 0;
        int error = wav_sink_write(r->sink, samples + done * (size_t)r->config.channels, n, &written);
        r->part[r->n_parts - 1].frames += written;
        r->frames += written;
        r->position += written;
        done += written;
        if (error)
            return error;
    }
    return 0;
}

enum thrum_status thrum_recorder_write(struct thrum_recorder *r, const float *samples, size_t n_frames,
                                       struct thrum_message *message)
{
    message_set(message, "%s", "");
    if (r->failed == THRUM_OK) {
        int error = write_frames(r, samples, n_frames);
        if (error)
            fail(r, error);
    }
    if (r->failed != THRUM_OK) {
        message_set(message, "%s", r->why.text);
        return r->failed;
    }
    r->since_look_s += (double)n_frames / r->config.rate_hz;
    if (r->since_look_s >= r->limits.space_s) {
        look_at_room(r, message);
        disk_sync_ask(r->sync, wav_sink_fd(r->sink));
    }
    return THRUM_OK;
}

/* Notes are few beside touches; a device that loses all the time does not use up their room. */
static void note_loss(struct thrum_recorder *r, uint64_t n_frames)
{
    struct thrum_mark note = {.first = r->position, .end = r->position + n_frames};
    if (r->n_notes < NOTES) {
        r->n_notes++;
        snprintf(note.label, sizeof note.label, "~lost %llu", (unsigned long long)n_frames);
        (void)thrum_recorder_mark(r, &note);
    }
}

/* Before the first frame there is nothing that a gap could part. */
static bool begins_a_part(const struct thrum_recorder *r, uint64_t n_frames)
{
    return r->gap > 0 || (r->frames > 0 && (double)n_frames > r->limits.gap_s * r->config.rate_hz &&
                          r->n_parts < RECORDER_PARTS);
}

enum thrum_status thrum_recorder_lost(struct thrum_recorder *r, uint64_t n_frames,
                                      struct thrum_message *message)
{
    if (r->failed == THRUM_OK && n_frames > 0 && begins_a_part(r, n_frames)) {
        message_set(message, "%s", "");
        r->gap += n_frames;
        r->position += n_frames;
        return THRUM_OK;
    }
    if (r->failed == THRUM_OK && n_frames > 0)
        note_loss(r, n_frames);
    const float zeros[ZERO_SAMPLES] = {0.0f};
    uint64_t most = ZERO_SAMPLES / (uint64_t)r->config.channels;
    enum thrum_status status = r->failed;
    struct thrum_message warning = {""};
    while (n_frames > 0 && status == THRUM_OK) {
        uint64_t n = n_frames < most ? n_frames : most;
        status = thrum_recorder_write(r, zeros, (size_t)n, message);
        if (message->text[0])
            warning = *message;
        n_frames -= n;
    }
    *message = status == THRUM_OK ? warning : r->why;
    return status;
}

enum thrum_status thrum_recorder_about(struct thrum_recorder *r, const char *about)
{
    char *copy = copy_text(about);
    if (!copy)
        return THRUM_ERR_MEM;
    free((char *)r->config.about);
    r->config.about = copy;
    return THRUM_OK;
}

enum thrum_status thrum_recorder_other(struct thrum_recorder *r, const char *about)
{
    enum thrum_status status = thrum_recorder_about(r, about);
    if (status == THRUM_OK)
        r->other = r->n_parts < RECORDER_PARTS;
    return status;
}

/* ---- ending ----------------------------------------------------------------------------------- */

enum thrum_status thrum_recorder_close(struct thrum_recorder *r, struct thrum_message *message)
{
    message_set(message, "%s", "");
    if (!r)
        return THRUM_OK;
    int error = end_part(r);
    if (error && r->failed == THRUM_OK)
        fail(r, error);
    if (r->frames == 0) {
        (void)unlink(r->part[0].path);
        marks_journal_remove(r->part[0].path);
    }
    enum thrum_status status = r->frames > 0 ? recorder_embed_all(r, message) : THRUM_OK;
    if (r->failed != THRUM_OK) {
        struct thrum_message marks = *message;
        status = r->failed;
        message_set(message, "%s%s%.200s", r->why.text, marks.text[0] ? "; " : "", marks.text);
    }
    destroy(r);
    return status;
}
