/** @file touches.h
 *  Finds the touches in an unbroken walk: by the hum that collapses between wires, else by the tone's level.
 *
 *  Works on the analysis signal of one channel. Pure; no allocation after creation.
 */
#ifndef THRUM_TOUCHES_H
#define THRUM_TOUCHES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "listen/clearest.h"
#include "listen/history.h"
#include "thrum/status.h"

struct thrum_touches;

/**
 * @param[in] tools    Copied; what it points to must outlive the finder.
 * @param[in] cycle_s  Of the slowest voice: nobody touches a wire for less than two or three cycles.
 * @retval THRUM_OK, THRUM_ERR_MEM.
 */
enum thrum_status thrum_touches_create(double rate_hz, const struct thrum_touch_tools *tools, double cycle_s,
                                       struct thrum_touches **touches);
void thrum_touches_destroy(struct thrum_touches *touches);

/** Hear n more analysis samples; they must be in the history already. */
void thrum_touches_feed(struct thrum_touches *touches, const struct thrum_history *history, const float *x,
                        size_t n);

/** The sound has ended: what is still open is closed. */
void thrum_touches_finish(struct thrum_touches *touches, const struct thrum_history *history);

/**
 * The next touch in analysis samples, oldest first, each once.
 * @param[out] in_doubt  How many touches were before it is in doubt, or whether it is one.
 */
bool thrum_touches_next(struct thrum_touches *touches, uint64_t *first, uint64_t *end, bool *in_doubt);

/** Does the probe rest on a wire now, and since when? False when the hum does not tell. */
bool thrum_touches_on_wire(const struct thrum_touches *touches, uint64_t *since);

#endif
