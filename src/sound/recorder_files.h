/* Names, folders and room for recordings. */
#ifndef THRUM_SOUND_RECORDER_FILES_H
#define THRUM_SOUND_RECORDER_FILES_H

#include <stdbool.h>
#include <stddef.h>

#include "sound/recorder.h"
#include "sound/wav_sink.h"

/* Makes the config's folder if it is not there. 0 or errno. */
int recording_folder(const struct thrum_recorder_config *config);

/* Bytes free for us in the folder; -1 when nobody knows. */
double recording_room(const char *folder);

/* Where a file belongs in its recording. */
struct recording_part {
    int number;     /* from 1 */
    uint64_t first; /* frame of the recording */
    uint64_t gap;   /* frames missing before it */
};

/* A new file folder/stem.wav, or with _2 to _999. *path malloc'ed. 0 or errno (EEXIST: all names are taken). */
int recording_new(const struct thrum_recorder_config *config, const char *stem,
                  const struct recording_part *part, char **path, struct wav_sink **sink);

/* The status and the words for an errno value. */
enum thrum_status recording_status(int error);

#endif
