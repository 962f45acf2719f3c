/** @file live.h
 *  What a technician sees while touching: the bar, and what is heard in one word.
 *
 *  Works on the analysis signal of the channel in use. Pure; no allocation after creation.
 */
#ifndef THRUM_LIVE_H
#define THRUM_LIVE_H

#include <stddef.h>

#include "listen/history.h"
#include "listen/touches.h"
#include "thrum/listen.h"
#include "thrum/status.h"
#include "thrum/voice.h"

struct thrum_live;

/**
 * @param[in] voices  Copied; shape [n_voices], n_voices 0 to THRUM_MAX_SENDERS.
 * @param[in] tools   Fits of these voices and a mains meter, for saying what is heard; copied, must outlive it.
 * @retval THRUM_OK, THRUM_ERR_MEM.
 */
enum thrum_status thrum_live_create(double rate_hz, const struct thrum_voice *voices, int n_voices,
                                    const struct thrum_touch_tools *tools, struct thrum_live **live);
void thrum_live_destroy(struct thrum_live *live);

/** The bar of one voice follows its sender: all tones by the factor by which the first one moves. */
void thrum_live_move(struct thrum_live *live, int voice, double first_tone_hz);

/** Hear n more analysis samples; they must be in the history already. Any split gives the same values. */
void thrum_live_feed(struct thrum_live *live, const struct thrum_history *history, const float *x, size_t n);

/** The fast bar of one voice, dBFS; THRUM_FLOOR_DBFS for a voice that there is not. */
double thrum_live_bar_dbfs(const struct thrum_live *live, int voice);

/** Fill bar, steady, best, hum, mains, hum_removed_db and heard; the rest of now is left alone. */
void thrum_live_now(const struct thrum_live *live, struct thrum_now *now);

#endif
