/* The inside of a source that reads a file or a pipe: opened by file_open.c, read by file_source.c. */
#ifndef THRUM_SOUND_FILE_SOURCE_H
#define THRUM_SOUND_FILE_SOURCE_H

#include <sndfile.h>
#include <stdbool.h>
#include <stdint.h>

#include "sound/bytes.h"
#include "sound/source_own.h"
#include "sound/wav_walk.h"

struct file_source {
    struct thrum_source source;
    struct bytes bytes;
    struct wav_layout wav;
    SNDFILE *snd;
    SF_INFO format;
    unsigned raw_frame_bytes; /* 0 when libsndfile parses the container by itself */
    float scale;
    uint64_t promised; /* frames by the header, 0 when it does not know */
    uint64_t frames_read;
    bool ended;
    bool is_stdin;
    char shown[160];
};

/* Looks at the content and gets everything ready for reading. On an error message is filled. */
enum thrum_status file_open_content(struct file_source *f, struct thrum_message *message);

/* A pipe whose content cannot be read as it comes: what libsndfile must seek in, and WAV with compressed samples. */
bool file_needs_seeking(struct file_source *f);

/* Adds something worth telling to the info. */
void file_note(struct file_source *f, const char *text);

#endif
