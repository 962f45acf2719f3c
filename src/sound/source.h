/** @file source.h
 *  Where sound comes from: a device, a file, standard input, or anything that can fill a block.
 *
 *  A source belongs to one thread. Samples are float, interleaved, full scale = +/-1, NaN and infinity passed
 *  through as they are (the listener cleans and counts them).
 */
#ifndef THRUM_SOURCE_H
#define THRUM_SOURCE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/status.h"

struct thrum_source;

/** Room for one line that tells the user what is wrong and what to do next. */
struct thrum_message {
    char text[512];
};

struct thrum_source_info {
    char name[160]; /**< "hw probe", "w07.wav", "-": what the screen shows. */
    double rate_hz; /**< As really delivered. */
    int channels;
    bool live;       /**< A device: it cannot be waited for. */
    uint64_t frames; /**< Length when it is known and checked, else 0. For progress only. */
    char note[256];  /**< Something worth telling the user ("header repaired in memory"), or "". */
    bool bluetooth;
    bool monitor;
};

enum thrum_source_event {
    THRUM_SOURCE_DATA, /**< `frames` frames were read (0 is possible: nothing there yet). */
    THRUM_SOURCE_END,  /**< The sound has ended. */
    THRUM_SOURCE_LOST, /**< `lost` frames are missing before this block; `frames` may hold data as well. */
    THRUM_SOURCE_GONE, /**< The device has gone; thrum_source_read() goes on trying to get it back by name. */
    THRUM_SOURCE_BACK, /**< It is back; `lost` says how long it was away, in frames (at the info's rate). */
    THRUM_SOURCE_OTHER, /**< Another input sounds in its place, as was asked for; `lost` as for BACK. The info has its name. */
    THRUM_SOURCE_RATE, /**< Frames come at `rate_hz` by the clock, not as the info says (or as it says again). */
    THRUM_SOURCE_FAILED /**< No more to be had; message says why. */
};

struct thrum_source_block {
    enum thrum_source_event event;
    size_t frames;
    uint64_t lost;
    double rate_hz;               /**< For RATE; else 0. */
    struct thrum_message message; /**< For GONE, BACK, OTHER, RATE and FAILED; else "". */
};

/**
 * Open a sound file by what is in it, not by its name. Wrong header sizes are repaired in memory, never in the file;
 * float samples on an integer's scale are brought to +/-1 as a whole (the note says so). Marks come from the file's
 * cue points, or from the journal "<path>.marks" that a killed recording leaves.
 * Takes 2000 to 768000 Hz, 1 to 64 channels (a listener takes 8000 to 192000 Hz).
 * @param[out] source   Owned by the caller, NULL on error.
 * @param[out] message  On error: one line, what is wrong and what to do next. Not NULL.
 * @retval THRUM_ERR_FILE (cannot be read), THRUM_ERR_FORMAT (no sound in it, unknown format), THRUM_ERR_MEM,
 *         THRUM_ERR_FULL (a pipe that does not fit into a temporary file).
 */
enum thrum_status thrum_source_open_file(const char *path, struct thrum_source **source,
                                         struct thrum_message *message);

/** Standard input, a sound file piped in: WAV, FLAC, AIFF and AU are read as they come (no marks then), anything else is
 *  put into a temporary file first, up to 2 GiB. As thrum_source_open_file(). */
enum thrum_status thrum_source_open_stdin(struct thrum_source **source, struct thrum_message *message);

/**
 * Open a sound input. Two channels when the device has them, else what it takes; rate and channels are in the info.
 *
 * Events: a loss is told at its frame (LOST). GONE within a second of the last frame, once; then reads give 0 frames
 * while the input is looked for by name every two seconds; BACK when it gives sound again, `lost` = the time away. Feed
 * `lost` to listener and recorder, and the frame numbers stay those of the clock. FAILED when it came back with another
 * rate. RATE within a second when the driver delivers at another usual rate than it says; what is lost is counted by that
 * one from then on. The driver is never waited for: opening is bounded by its limits, closing by about two seconds.
 *
 * The libraries write to standard error from threads of their own: a live command keeps thrum_quiet_begin() on.
 *
 * @param[in] name  Any part of the stable name of `thrum inputs`, any case; NULL, "" or "default" for the default: a
 *                  wired input before a Bluetooth one, never a monitor.
 * @retval THRUM_ERR_DEVICE (none, busy, no permission), THRUM_ERR_ARG (the name fits several: message lists them).
 */
enum thrum_status thrum_source_open_device(const char *name, struct thrum_source **source,
                                           struct thrum_message *message);

/** Anything else: a practice bundle, a test. `read` fills up to max_frames and returns how many; 0 ends the sound. */
struct thrum_source_functions {
    size_t (*read)(void *context, float *samples, size_t max_frames);
    void (*close)(void *context);
};
enum thrum_status thrum_source_from_functions(const struct thrum_source_functions *functions, void *context,
                                              const struct thrum_source_info *info,
                                              struct thrum_source **source);

const struct thrum_source_info *thrum_source_info(const struct thrum_source *source);

/** Inputs that may take the place of one that has gone. */
#define THRUM_OFFERS 9
struct thrum_offers {
    int n;
    char name[THRUM_OFFERS][160]; /**< Stable names, monitors left out. [n] */
};

/**
 * Look for a device that has gone at once, not within two seconds. The list of inputs is made anew.
 *
 * @param[in] name  "" for the one that has gone. Else the stable name of another input, which is to take its place: it is opened
 *                  at the same rate and number of channels (one channel is given on all of them), and OTHER comes when it
 *                  sounds; or GONE comes once more and says why not, and the lost one is looked for on.
 * @retval THRUM_OK              It will be tried.
 * @retval THRUM_ERR_NOT_FOUND   Nothing has gone.
 * @retval THRUM_ERR_UNSUPPORTED It is no device.
 * @retval THRUM_ERR_FULL        Too much has been asked for and not been tried yet.
 */
enum thrum_status thrum_source_look(struct thrum_source *source, const char *name);

/** The inputs that were there when a device that has gone was looked for. False: nothing new since the last call; *offers is
 *  left as it is. */
bool thrum_source_offers(struct thrum_source *source, struct thrum_offers *offers);

/**
 * Read the next block. A file gives data at once; a device or a pipe waits at most about 50 ms.
 * After END or FAILED every further call says the same (END).
 * @param[out] samples  Shape [max_frames * channels].
 * @param[out] block    Filled in every case. Not NULL.
 */
void thrum_source_read(struct thrum_source *source, float *samples, size_t max_frames,
                       struct thrum_source_block *block);

/** Close it; bounded in time also when the driver hangs. NULL is allowed. */
void thrum_source_close(struct thrum_source *source);

/** Marks found in a file (cue points with labels), in order. */
struct thrum_mark {
    uint64_t first; /**< Frame. */
    uint64_t end;   /**< One past the last frame; 0 when the mark is a point without a length. */
    char label[64];
};

/** What a recording says about itself (the JSON line given to the recorder), or "". Valid until closed. */
const char *thrum_source_about(const struct thrum_source *source);

/** @return number of marks the file holds; marks filled with at most max of them (NULL allowed when max is 0). */
size_t thrum_source_marks(const struct thrum_source *source, struct thrum_mark *marks, size_t max);

#endif
