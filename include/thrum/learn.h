/** @file learn.h
 *  Learning a sender's voice from a few seconds of it.
 *
 *  Pure: no I/O, no clock, no locks. Feeding never allocates; thrum_learner_result() does while it works, because
 *  what it needs depends on the voice it finds. One learner belongs to one thread.
 */
#ifndef THRUM_LEARN_H
#define THRUM_LEARN_H

#include "thrum/status.h"
#include "thrum/voice.h"
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/** How much sound is learned from, at most; older sound is forgotten. */
#define THRUM_LEARN_S 20.0

/** What was heard in place of a voice. */
enum thrum_not_voice {
    THRUM_VOICE_FOUND,   /**< A voice it is. */
    THRUM_NOT_ENOUGH,    /**< Less than two cycles, or less than a second. */
    THRUM_NOT_SILENCE,   /**< Digital silence. */
    THRUM_NOT_HUM,       /**< Mostly hum, and no voice that stands out of it. */
    THRUM_NOT_NOISE,     /**< Only noise. */
    THRUM_NOT_CLICKS,    /**< Clicks, not a tone. */
    THRUM_NOT_IRREGULAR, /**< Tones without a repeating pattern: speech, music; two less than 25 Hz apart. */
    THRUM_NOT_SWEEPING,  /**< A tone whose frequency moves: a siren. */
    THRUM_NOT_TOO_FAST,  /**< Beeps shorter than 40 ms. */
    THRUM_NOT_DATA       /**< One tone or two, keyed without a repeating pattern: Morse, data. */
};

/** One plain sentence for what was heard. Static storage, never NULL. */
const char *thrum_not_voice_text(enum thrum_not_voice what);

struct thrum_learner;

/**
 * Make a learner.
 *
 * @param[in]  rate_hz   8000 to 192000.
 * @param[in]  channels  1 to 64; the channel with the clearest voice is used.
 * @param[out] learner   Owned by the caller, or NULL on error.
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_learner_create(double rate_hz, int channels, struct thrum_learner **learner);

/** Free it. NULL is allowed. */
void thrum_learner_destroy(struct thrum_learner *learner);

/** Hear the next frames; samples as in thrum_listener_feed(). Cannot fail. */
void thrum_learner_feed(struct thrum_learner *learner, const float *samples, size_t n_frames);

/** What the result rests on. */
struct thrum_learned {
    struct thrum_voice voice; /**< Name "a". Only when what = THRUM_VOICE_FOUND. */
    enum thrum_not_voice what;
    double quality_db; /**< Tone over everything that the voice does not explain, in the tone's band. */
    double mains_hz;   /**< 0 if none. */
    int channel;
};

/**
 * Learn from what has been heard so far. Of two tones that always sound together the stronger is learned, of a
 * square wave the fundamental. Takes about a tenth of a second for 8 s of sound. May be called again after more sound.
 *
 * @param[out] learned  Filled in every case. Not NULL.
 * @retval THRUM_OK             A voice was found.
 * @retval THRUM_ERR_NOT_FOUND  None; learned->what says what was heard instead.
 * @retval THRUM_ERR_MEM        Out of memory; the learner is as it was.
 */
enum thrum_status thrum_learner_result(struct thrum_learner *learner, struct thrum_learned *learned);

#ifdef __cplusplus
}
#endif
#endif
