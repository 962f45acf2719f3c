/** @file rebound.h
 *  Does the sound come back by itself after it has dropped?
 *
 *  A probe is lifted, a beep ends, a strong wire is left for a weak one: the sound drops. An honest input then stays down; a
 *  level control brings everything up again, evenly, as its release lets it. So after every steep fall from a steady level
 *  the slope of what follows is measured for some seconds, stretch by stretch between jumps, until it is as loud again. Once
 *  for the sound as it is, and once for its changes from sample to sample: there the many harmonics of the hum count alike,
 *  and their wobbles, each its own, cancel. A hand that nears the next wire raises the hum too, but last and fastest at
 *  the end; a level control begins at once.
 *
 *  Pure; no allocation after creation; any split into blocks gives the same; one of it belongs to one thread.
 */
#ifndef THRUM_REBOUND_H
#define THRUM_REBOUND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/status.h"

struct thrum_rebound;

/** @param[in] rate_hz  Of the analysis samples, [8000, 16000). @retval THRUM_OK, THRUM_ERR_ARG, THRUM_ERR_MEM. */
enum thrum_status thrum_rebound_create(double rate_hz, struct thrum_rebound **rebound);
void thrum_rebound_destroy(struct thrum_rebound *rebound);

/** Hear n analysis samples. */
void thrum_rebound_feed(struct thrum_rebound *rebound, const float *x, size_t n);

/** What followed the falls of the last minute before a sample; all 0 when there were none. */
struct thrum_rebound_value {
    int n;        /**< Stretches of sound after falls. */
    double slope; /**< Mean slope of the changes from sample to sample in them, dB a second. */
    double sd;    /**< Standard error of it. */
    bool rides;   /**< A level control it is. */
};

/** @param[in] until  Only what had ended before this analysis sample. */
void thrum_rebound_judge(const struct thrum_rebound *rebound, uint64_t until,
                         struct thrum_rebound_value *value);

#endif
