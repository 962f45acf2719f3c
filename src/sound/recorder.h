/** @file recorder.h
 *  Recording of the raw sound to WAV, with touch marks inside the file.
 *
 *  The header is right at least once a second of sound; every write is checked. Float garbage is cleaned at the
 *  door. While recording the marks are kept in a journal beside the file, and put into it (cue and adtl chunks)
 *  at the end, so nothing is lost by a kill. A recorder belongs to one thread.
 */
#ifndef THRUM_RECORDER_H
#define THRUM_RECORDER_H

#include <stddef.h>
#include <stdint.h>

#include "sound/source.h"
#include "thrum/status.h"

struct thrum_recorder;

struct thrum_recorder_config {
    const char *folder; /**< Made if it is not there (one level). */
    const char *stem;   /**< File name without ending; _2 to _999 is added rather than replace a file. */
    double rate_hz;
    int channels;
    const char
        *about; /**< One JSON line that describes the take (voice, device), kept in the file; may be NULL. */
};

/** @retval THRUM_ERR_FILE, THRUM_ERR_FULL, THRUM_ERR_MEM; message says what to do. */
enum thrum_status thrum_recorder_create(const struct thrum_recorder_config *config,
                                        struct thrum_recorder **recorder, struct thrum_message *message);

/** Path of the file being written (changes when a new part begins). */
const char *thrum_recorder_path(const struct thrum_recorder *recorder);

/** Write frames. @retval THRUM_ERR_FULL or THRUM_ERR_FILE: what was written is valid; the round goes on without. */
enum thrum_status thrum_recorder_write(struct thrum_recorder *recorder, const float *samples, size_t n_frames,
                                       struct thrum_message *message);

/** Mark a stretch, frames counted since the recording began. */
enum thrum_status thrum_recorder_mark(struct thrum_recorder *recorder, const struct thrum_mark *mark);

/** Take back the newest mark with that label (undo). @retval THRUM_ERR_NOT_FOUND */
enum thrum_status thrum_recorder_unmark(struct thrum_recorder *recorder, const char *label);

/** Frames written so far. */
uint64_t thrum_recorder_frames(const struct thrum_recorder *recorder);

/** Put the marks in, close, check. recorder is freed in every case. NULL gives THRUM_OK. */
enum thrum_status thrum_recorder_close(struct thrum_recorder *recorder, struct thrum_message *message);

#endif
