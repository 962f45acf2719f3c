/** @file listen.h
 *  Blocks of samples in, what is heard out: the one listening core for live and recorded sound.
 *
 *  Pure: no I/O, no clock, no locks, no allocation after creation. Time is counted in frames, so a file and a
 *  live input give the same numbers, and any split of a sound into blocks gives the same result to the last
 *  digit. One listener belongs to one thread at a time; two of them share nothing.
 */
#ifndef THRUM_LISTEN_H
#define THRUM_LISTEN_H

#include "thrum/reading.h"
#include "thrum/status.h"
#include "thrum/voice.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/** How much sound is kept for measuring a touch, seconds. A longer touch is measured on its last part. */
#define THRUM_KEEP_S 60.0
/** Channels that are looked at; further ones are ignored. */
#define THRUM_MAX_CHANNELS 8

struct thrum_listener;

struct thrum_listener_config {
    double rate_hz;                              /**< Frames per second, 8000 to 192000. */
    int channels;                                /**< Channels interleaved in the input, 1 to 64. */
    int channel;                                 /**< Which to use, from 0; -1 = by tone to noise. */
    int n_voices;                                /**< Senders to listen for, 0 to THRUM_MAX_SENDERS. */
    struct thrum_voice voice[THRUM_MAX_SENDERS]; /**< [n_voices] */
    bool bar;          /**< Keep the live bar going (costs time; off for plain files). */
    bool find_touches; /**< Find touches in the sound by themselves. */
};

/** What is heard, in one word; the states a screen must tell apart. */
enum thrum_heard {
    THRUM_HEARD_NOTHING_YET,   /**< Less than a quarter second so far. */
    THRUM_HEARD_SILENCE,       /**< Digital silence: no input at all. */
    THRUM_HEARD_TOO_LOW,       /**< Something, but below use. */
    THRUM_HEARD_NO_TONE,       /**< Hum or noise only. */
    THRUM_HEARD_OTHER_CADENCE, /**< The tone, with another cadence. */
    THRUM_HEARD_TONE,          /**< The sender's beeps. */
    THRUM_HEARD_OVERLOAD       /**< Clipped. */
};

/** "nothing yet", "digital silence", ... Static storage, never NULL. */
const char *thrum_heard_name(enum thrum_heard heard);

/** What the listener knows after the last block: a value. */
struct thrum_now {
    uint64_t frames; /**< Frames fed so far. */
    enum thrum_heard heard;
    double bar_dbfs[THRUM_MAX_SENDERS];    /**< Fast bar per sender, hum taken out; half-rise within 60 ms. */
    double steady_dbfs[THRUM_MAX_SENDERS]; /**< The same with the F time weighting (IEC 61672-1). */
    double best_dbfs
        [THRUM_MAX_SENDERS]; /**< Highest steady value so far; in a round's snapshot the strongest touch, the one in progress too. */
    double hum_dbfs;        /**< Hum, last second. */
    double mains_hz;        /**< 0 if none. */
    double hum_removed_db;  /**< By how much the tone band became quieter without hum; 0 if none. */
    double peak_dbfs;       /**< Largest sample of the last quarter second; full scale = 0. */
    uint32_t faults;        /**< Of the last second; a level control that lifts show, of the last minute. */
    uint64_t bad_samples;   /**< NaN and infinite samples so far. */
    int channel;            /**< The channel in use. */
    bool on_wire;           /**< The touch finder thinks the probe rests on a wire. */
    uint64_t on_wire_since; /**< Frame since when. */
};

/** A stretch of sound, in input frames. */
struct thrum_span {
    uint64_t first;
    uint64_t end; /**< One past the last. */
};

/**
 * Make a listener.
 *
 * @param[in]  config    Copied. Not NULL.
 * @param[out] listener  Owned by the caller, or NULL on error. Free with thrum_listener_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  A field is outside its range, or a voice does not pass thrum_voice_check().
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_listener_create(const struct thrum_listener_config *config,
                                        struct thrum_listener **listener);

/** Free it. NULL is allowed. */
void thrum_listener_destroy(struct thrum_listener *listener);

/**
 * Hear the next frames. Cannot fail.
 *
 * @param[in] samples   Interleaved, full scale = +/-1, shape [n_frames * channels]. NaN and infinity are
 *                      counted and heard as 0; values beyond +/-8 are limited to it.
 * @param[in] n_frames  0 is allowed; samples may then be NULL.
 */
void thrum_listener_feed(struct thrum_listener *listener, const float *samples, size_t n_frames);

/**
 * Follow a sender that drifts or sags: after a touch that heard it for sure (score below -6) more than 3 Hz from where it was
 * looked for, look for it there, its other tones by the same factor, up to 8 % from its voice. The bar moves too.
 *
 * Measuring alone moves nothing. Nothing moves either where the listener has no voice or several, which might be taken for
 * each other, where nothing was heard, and for NaN.
 *
 * @param[in] reading  Of this listener, or of an earlier one with the same voice.
 */
void thrum_listener_follow(struct thrum_listener *listener, const struct thrum_reading *reading);

/**
 * How much speaks for the only voice's cadence being kept in a touch by tones up to `share` of themselves from where they are looked
 * for: the natural logarithm of a likelihood ratio. A few milliseconds of work; what it suspects is for a learner to confirm.
 *
 * @param[in] span   As in thrum_listener_measure().
 * @param[in] share  0 to 0.1.
 * @return -infinity where there is no voice, or several, for a steady voice, and for a span that is not there; below 0 in nearly
 *         all noise and silence.
 */
double thrum_listener_elsewhere(struct thrum_listener *listener, struct thrum_span span, double share);

/**
 * Look for the only voice's first tone at tone_hz from now on, its other tones by the same factor: where somebody has found it.
 *
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  There is no voice or there are several, tone_hz is NaN or more than 8 % from where it was learned.
 */
enum thrum_status thrum_listener_aim(struct thrum_listener *listener, double tone_hz);

/** Say that n_frames frames were lost before the next block; silence takes their place and the fault is kept. */
void thrum_listener_lost(struct thrum_listener *listener, uint64_t n_frames);

/** What is wrong with the input as a whole and is known from elsewhere: faults OR-ed, 0 for none. `now` and each reading
 *  measured from here on have them, until it is called again. */
void thrum_listener_input_faults(struct thrum_listener *listener, uint32_t faults);

/** The sound has ended: what is still in the filters is heard, a touch in progress is closed. */
void thrum_listener_finish(struct thrum_listener *listener);

/** What thrum_now.bar_dbfs[sender] would be, alone; THRUM_FLOOR_DBFS without a bar. */
double thrum_listener_bar_dbfs(const struct thrum_listener *listener, int sender);

/** What is known now. */
void thrum_listener_now(const struct thrum_listener *listener, struct thrum_now *now);

/**
 * The next touch found, oldest first. Each is given once.
 *
 * @param[out] span  The stretch in which the probe rested on one wire. Not NULL.
 * @return false when there is none (yet).
 */
bool thrum_listener_next_touch(struct thrum_listener *listener, struct thrum_span *span);

/**
 * Measure a touch.
 *
 * @param[in]  span     Must lie in what has been fed; what is older than THRUM_KEEP_S is left out.
 * @param[out] reading  wire is "" and touch 0; the rest is filled. Not NULL.
 * @retval THRUM_OK       Also when nothing is heard.
 * @retval THRUM_ERR_ARG  The span is empty or lies outside.
 */
enum thrum_status thrum_listener_measure(struct thrum_listener *listener, struct thrum_span span,
                                         struct thrum_reading *reading);

#ifdef __cplusplus
}
#endif
#endif
