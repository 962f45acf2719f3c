/* One WAV file being written: 24 bits, header right at least once a second of sound, marks put in at the end. */
#ifndef THRUM_SOUND_WAV_SINK_H
#define THRUM_SOUND_WAV_SINK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "sound/source.h"

struct wav_sink;

#define WAV_SINK_SAMPLE_BYTES 3

/* What the file says of itself; any of it may be NULL or 0. */
struct wav_about {
    const char *comment;   /* LIST INFO, ICMT */
    const char *software;  /* ISFT */
    int64_t start_unix_ms; /* of the first sample, since 1970 UTC: ICRD, and the times of the bext chunk */
};

/* A new file, never an old one and never through a link. Returns 0 or an errno value (EEXIST: the name is taken). */
int wav_sink_open(const char *path, double rate_hz, int channels, const struct wav_about *about,
                  struct wav_sink **sink);

/* Cleans (NaN and infinity become 0), limits to +/-1, writes. *written: frames that are in the file. 0 or errno. */
int wav_sink_write(struct wav_sink *sink, const float *samples, size_t n_frames, size_t *written);

uint64_t wav_sink_frames(const struct wav_sink *sink);
int wav_sink_fd(const struct wav_sink *sink);

/* Gives up the last frames again, so that closing makes the file shorter by about that many bytes. Returns how many. */
uint64_t wav_sink_give_back(struct wav_sink *sink, uint64_t bytes);

/* Makes the file valid to its last whole frame and closes it. sink is freed. 0 or errno. */
int wav_sink_close(struct wav_sink *sink);

/* Puts marks (frames of this file) into a closed file: cue and adtl chunks after the data, then the new length, then
 * the whole read again and compared. On an error the file is as before. 0 or errno. */
int wav_embed_marks(const char *path, const struct thrum_mark *marks, size_t n_marks);

#endif
