/** @file history.h
 *  The last minute of one channel at the analysis rate, in one piece.
 */
#ifndef THRUM_HISTORY_H
#define THRUM_HISTORY_H

#include <stddef.h>
#include <stdint.h>

#include "thrum/status.h"

struct thrum_history {
    float *samples;   /**< [room] */
    size_t room;      /**< keep + half, so that moving is rare. */
    size_t keep;      /**< At least this much of the past is there. */
    size_t held;      /**< Samples in the buffer. */
    uint64_t dropped; /**< Samples that went before samples[0]. */
};

/** @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_history_create(size_t keep, struct thrum_history *history);
void thrum_history_destroy(struct thrum_history *history);

/** Room for at least n more samples, n up to keep / 2; write there, then thrum_history_added(). */
float *thrum_history_room(struct thrum_history *history, size_t n);
void thrum_history_added(struct thrum_history *history, size_t n);

/** One past the newest sample. */
uint64_t thrum_history_end(const struct thrum_history *history);

/**
 * The samples [*first, end): *first is moved up to the oldest that is still kept, by the stated keep and not by what
 * happens to lie in the buffer, so that the answer does not depend on the blocks.
 */
const float *thrum_history_part(const struct thrum_history *history, uint64_t *first);

#endif
