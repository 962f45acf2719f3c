/** @file recorder.h
 *  Recording of the raw sound to 24-bit WAV, with touch marks inside the file.
 *
 *  The header is right at least once a second of sound; every write is checked. NaN and infinity become 0, the
 *  rest is limited to +/-1; every sample of a 16- or 24-bit input is kept exactly. While recording the marks are
 *  kept in a journal beside the file ("<file>.marks"), and put into it (cue and adtl chunks) at the end, so nothing
 *  is lost by a kill: a file source finds the journal by itself. A new file is begun at 2 GiB or an hour,
 *  "<stem>-part2.wav" and so on, without losing a frame, and after a gap of more than two seconds. A recorder
 *  belongs to one thread.
 *
 *  Each file says of itself what it is, in chunks that other programs read: LIST INFO (ICMT: one JSON object; ISFT,
 *  ICRD) and bext (EBU Tech 3285: date, time and time reference of its first sample, in UTC). In the JSON object
 *  "part" and "first_frame" say where the file belongs in the recording, "start" when it begins, "gap_before_s" how
 *  long nothing could be heard before it. Marks whose label begins with '~' are notes, not touches: "~lost 4800" is
 *  a stretch of zeros in place of lost frames.
 *
 *  The program must ignore SIGXFSZ, or a file size limit ends it.
 */
#ifndef THRUM_RECORDER_H
#define THRUM_RECORDER_H

#include <stddef.h>
#include <stdint.h>

#include "sound/source.h"
#include "thrum/status.h"

/** Marks that one recording can hold. */
#define THRUM_RECORDER_MARKS 4096

struct thrum_recorder;

struct thrum_recorder_config {
    const char *folder; /**< Made if it is not there (one level). */
    const char *
        stem; /**< File name without ending; _2 to _999 is added rather than replace a file. '/' becomes '_'. */
    double rate_hz;    /**< 2000 to 768000; stored as a whole number. */
    int channels;      /**< 1 to 64. */
    const char *about; /**< One JSON object in one line that describes the take (voice, device); kept in each
                                file, what is said of the part added to it. May be NULL. thrum_source_about()
                                gives it back. */
    const char *software;          /**< "thrum 1.2.3": who wrote it. May be NULL. */
    int64_t start_unix_ms;         /**< Time of day of frame 0, in ms since 1970 UTC; 0 when nobody knows. */
    unsigned owner_uid, owner_gid; /**< Whom the files are given to when they are made by root; 0: nobody. */
};

/**
 * Begin a recording.
 *
 * @param[in]  config    Copied. Not NULL.
 * @param[out] recorder  Owned by the caller, or NULL on error. End it with thrum_recorder_close().
 * @param[out] message   On error what to do; on THRUM_OK "" or a warning (little room left). Not NULL.
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG   A field is outside its range.
 * @retval THRUM_ERR_FILE  The folder or file cannot be written.
 * @retval THRUM_ERR_FULL  No room on the disk, or 999 files of that name.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_recorder_create(const struct thrum_recorder_config *config,
                                        struct thrum_recorder **recorder, struct thrum_message *message);

/** Path of the file being written (changes when a new part begins). */
const char *thrum_recorder_path(const struct thrum_recorder *recorder);

/**
 * Write frames.
 *
 * @param[in]  samples  Interleaved, shape [n_frames * channels].
 * @param[out] message  On error what happened ("NOT RECORDING: disk full ..."); on THRUM_OK "" or, once, a warning
 *                      that there is room for less than two minutes. Not NULL.
 * @retval THRUM_OK
 * @retval THRUM_ERR_FULL  What was written is valid, but for the last 64 KiB, given up to make room for the marks;
 *                         nothing more is taken, every later call says the same at once.
 * @retval THRUM_ERR_FILE  The same for any other failure.
 */
enum thrum_status thrum_recorder_write(struct thrum_recorder *recorder, const float *samples, size_t n_frames,
                                       struct thrum_message *message);

/** Frames that were lost on the way in. Up to two seconds are written as zeros, with a note; after a longer gap the
 *  recording goes on in a new part. Frame numbers stay those of the round in both cases. */
enum thrum_status thrum_recorder_lost(struct thrum_recorder *recorder, uint64_t n_frames,
                                      struct thrum_message *message);

/**
 * Of the parts that begin from now on.
 *
 * @param[in] about  As in the config. Copied.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  Nothing is changed.
 */
enum thrum_status thrum_recorder_about(struct thrum_recorder *recorder, const char *about);

/**
 * What follows comes from another input: it begins a new part, which says so of itself.
 *
 * @param[in] about  As in the config: of that part and those after it. Copied.
 * @retval THRUM_OK
 * @retval THRUM_ERR_MEM  Nothing is changed.
 */
enum thrum_status thrum_recorder_other(struct thrum_recorder *recorder, const char *about);

/**
 * Mark a stretch, frames counted since the recording began (over all parts). A mark over the border of two parts
 * is in both.
 * @retval THRUM_OK
 * @retval THRUM_ERR_FULL  THRUM_RECORDER_MARKS reached.
 * @retval THRUM_ERR_FILE  The journal cannot be written; the mark is kept for the end all the same.
 */
enum thrum_status thrum_recorder_mark(struct thrum_recorder *recorder, const struct thrum_mark *mark);

/** Take back the newest mark with that label (undo). @retval THRUM_ERR_NOT_FOUND */
enum thrum_status thrum_recorder_unmark(struct thrum_recorder *recorder, const char *label);

/** Frames written so far, over all parts. */
uint64_t thrum_recorder_frames(const struct thrum_recorder *recorder);

/** The frame that comes next: those written and those in gaps between the parts. */
uint64_t thrum_recorder_position(const struct thrum_recorder *recorder);

/** Number of files so far, and the path of one, 0 to that number - 1. */
int thrum_recorder_parts(const struct thrum_recorder *recorder);
const char *thrum_recorder_part(const struct thrum_recorder *recorder, int part);

/** Seconds of sound there was room for when last looked (every five seconds of sound); -1 when nobody knows. */
double thrum_recorder_room_s(const struct thrum_recorder *recorder);

/**
 * Put the marks in, close, read the file again to check. recorder is freed in every case. A recording without a
 * frame leaves no file.
 * @param[out] message  On error what is left and where ("the marks stay in ..."); else "". Not NULL.
 * @retval THRUM_OK        Also for NULL.
 * @retval THRUM_ERR_FULL, THRUM_ERR_FILE  An earlier write or the end of it failed; what is there is valid.
 */
enum thrum_status thrum_recorder_close(struct thrum_recorder *recorder, struct thrum_message *message);

#endif
