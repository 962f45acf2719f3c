/* The inside of the recorder: recorder.c writes, recorder_marks.c marks; the limits are there for tests. */
#ifndef THRUM_SOUND_RECORDER_OWN_H
#define THRUM_SOUND_RECORDER_OWN_H

#include <stdbool.h>

#include "sound/disk_sync.h"
#include "sound/recorder.h"
#include "sound/wav_sink.h"

#define RECORDER_PARTS 1000

struct recorder_limits {
    uint64_t part_bytes; /* of sound in one file */
    double part_s;       /* of sound in one file */
    double gap_s;        /* a longer one is not filled with zeros */
    double space_s;      /* look at the free space after this much sound */
    double warn_s;       /* warn when there is room for less than this */
};

struct recorder_limits recorder_limits_default(void);

enum thrum_status recorder_create_limited(const struct thrum_recorder_config *config,
                                          const struct recorder_limits *limits,
                                          struct thrum_recorder **recorder, struct thrum_message *message);

struct part {
    char *path;
    uint64_t first; /* frame of the recording at which it begins */
    uint64_t frames;
    uint64_t gap; /* frames that are missing before it */
};

struct thrum_recorder {
    struct thrum_recorder_config config; /* its strings are ours */
    struct recorder_limits limits;
    char *stem;            /* of the first part, with its number: later parts are named after it */
    struct wav_sink *sink; /* the part being written, NULL once it is closed */
    struct disk_sync *sync;
    struct part part[RECORDER_PARTS];
    int n_parts;
    struct thrum_mark mark[THRUM_RECORDER_MARKS]; /* in the order of their making */
    size_t n_marks;
    size_t n_notes;    /* of those, the ones that are no touches */
    uint64_t frames;   /* written */
    uint64_t position; /* the next one's number: gaps count */
    uint64_t gap;      /* before the next part, which begins with the next frame; 0: no new part */
    bool other;        /* the next frame begins a part: it comes from another input */
    double since_look_s;
    double room_s;
    bool warned;
    enum thrum_status failed;
    struct thrum_message why;
};

/* Puts the marks into all parts; what does not go in stays in its journal, and message says so. */
enum thrum_status recorder_embed_all(struct thrum_recorder *r, struct thrum_message *message);

#endif
