/* What a WAV file really holds, found by walking its chunks; the header's sizes are claims to be checked.
 *
 * Layout: RIFF/WAVE and fmt as in "Multimedia Programming Interface and Data Specifications 1.0" (1991); RF64 and
 * BW64 with their ds64 chunk as in EBU Tech 3306 and ITU-R BS.2088. Nothing is ever written.
 */
#ifndef THRUM_SOUND_WAV_WALK_H
#define THRUM_SOUND_WAV_WALK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "sound/bytes.h"
#include "sound/source.h"

#define WAV_MAX_MARKS 4096
#define WAV_MAX_LISTS 16

/* Sample codings by their number in the fmt chunk. */
enum wav_coding { WAV_PCM = 1, WAV_FLOAT = 3, WAV_ALAW = 6, WAV_ULAW = 7 };

struct wav_layout {
    bool big_endian; /* RIFX */
    bool has_format;
    bool has_data;
    bool open_ended; /* a pipe whose length nobody knows */
    bool repaired;   /* the data size in the header was not believed */
    bool cut_short;  /* the header promises more than the file holds */
    unsigned coding; /* enum wav_coding, or another registered number */
    unsigned channels;
    uint32_t rate_hz;
    unsigned frame_bytes;
    unsigned bits;
    int64_t data_first;    /* file position of the first sample */
    int64_t data_end;      /* one past the last sample byte; BYTES_UNKNOWN when open_ended */
    uint64_t header_bytes; /* what the header says the data is long */
    /* For the marks: where they are. */
    int64_t cue_at, cue_bytes;
    int n_lists;
    int64_t list_at[WAV_MAX_LISTS], list_bytes[WAV_MAX_LISTS];
    int64_t info_at, info_bytes; /* the first LIST INFO */
};

/* true when this is a WAV file (the layout may still lack format or data). */
bool wav_walk(struct bytes *bytes, struct wav_layout *layout);

/* The cue points with labels and lengths, in order of time. *marks is malloc'ed (NULL when none).
 * Returns false when there is no memory. */
bool wav_read_marks(struct bytes *bytes, const struct wav_layout *layout, struct thrum_mark **marks,
                    size_t *n_marks);

/* The comment (ICMT) of the file, malloc'ed; NULL when there is none. false when there is no memory. */
bool wav_read_comment(struct bytes *bytes, const struct wav_layout *layout, char **comment);

#endif
