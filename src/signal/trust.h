/** @file trust.h
 *  Whether an input can be trusted, seen from its raw samples: faults that no measurement may hide.
 *
 *  Looks at the samples as they come from the device or the file: interleaved, full rate, before anything is cleaned,
 *  mixed or decimated. What it finds is kept for the last THRUM_TRUST_KEEP_S seconds in pieces of 0.24 s, so that a
 *  touch can be asked about afterwards.
 *
 *  | fault | when |
 *  |---|---|
 *  | SILENT | every sample of every channel is one and the same number; +-1 LSB of noise is not silence |
 *  | CLIPPED | a sample beyond +-1, or runs of 3 and more equal samples at the highest or lowest value, cut off steeply: one near the rail (0.98), or eight of them anywhere; or eight that are equal but for 0.3 % of noise, in three pieces (extreme.h). A flat top of a slow wave that is only rounded, and a square wave below the rail, are not clipped |
 *  | DC | the mean is beyond 1 % of full scale |
 *  | GATED | of the 20 ms pieces between the first and the last sound, over 5 % are exactly zero, in two places or more |
 *  | LOST | a stretch of 128 to 8192 frames is an exact repetition of the one before; or 32 frames to 30 ms of exact zeros are cut into the sound (zerorun.h) |
 *  | NOT_FINITE | NaN or infinity |
 *  | ONE_SIDED | of several channels, one is over 30 dB below the loudest |
 *  | CANCELLING | two channels alike, with opposite sign |
 *
 *  Pure: no I/O, no clock, no locks, no allocation after creation. One object belongs to one thread at a time.
 */
#ifndef THRUM_SIGNAL_TRUST_H
#define THRUM_SIGNAL_TRUST_H

#include <stddef.h>
#include <stdint.h>

#include "thrum/reading.h"
#include "thrum/status.h"

#define THRUM_TRUST_KEEP_S   64.0
#define THRUM_TRUST_CHANNELS 8 /**< The first so many channels are looked at. */

struct thrum_trust;

/** What was seen in a stretch: a value. */
struct thrum_trust_report {
    uint32_t faults; /**< OR of enum thrum_fault: the eight above. */
    uint64_t frames; /**< What the report rests on: whole pieces, so up to 0.24 s more or less than asked. */
    uint64_t bad_samples; /**< NaN and infinite samples, counted as 0 in what follows. */
    double dc;         /**< Mean, full scale = 1; of the channel with the largest when several are asked. */
    double ac_dbfs;    /**< RMS without the mean, full-scale sine = 0; loudest channel. */
    double peak_dbfs;  /**< Largest sample, full scale = 0. */
    double zero_share; /**< Share of 20 ms pieces between sounds that are exactly zero. */
    int repeats;       /**< Stretches repeated. */
    int holes;         /**< Stretches of zeros cut into the sound; of the channel with most. */
};

/**
 * @param[in]  rate_hz   8000 to 192000.
 * @param[in]  channels  1 to 64.
 * @param[out] trust     Owned by the caller, or NULL on error. Free with thrum_trust_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_trust_create(double rate_hz, int channels, struct thrum_trust **trust);

/** Free it. NULL is allowed. */
void thrum_trust_destroy(struct thrum_trust *trust);

/** As new. */
void thrum_trust_reset(struct thrum_trust *trust);

/**
 * Look at the next frames. Cannot fail. Any split into calls gives the same reports.
 *
 * @param[in] samples  Interleaved, full scale = +/-1, shape [n_frames * channels]. NaN and infinity allowed.
 */
void thrum_trust_feed(struct thrum_trust *trust, const float *samples, size_t n_frames);

/** Frames fed so far. */
uint64_t thrum_trust_frames(const struct thrum_trust *trust);

/**
 * What was seen from frame `first` to before frame `end`. Pieces of which half or more lies in the stretch count; if there is
 * none, those that touch it. What is older than THRUM_TRUST_KEEP_S, and the last 20 ms, may be missing.
 *
 * @param[in]  channel  0 to 7, or -1 for all that are looked at (a dead channel then is ONE_SIDED, not SILENT).
 * @param[out] report   Filled in every case; frames = 0 and no faults when nothing is known. Not NULL.
 */
void thrum_trust_report(const struct thrum_trust *trust, uint64_t first, uint64_t end, int channel,
                        struct thrum_trust_report *report);

#endif
