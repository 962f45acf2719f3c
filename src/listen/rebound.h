/** @file rebound.h
 *  Does the sound come back by itself after it has dropped?
 *
 *  Where hum is far above the beeps, a level control goes by the hum, and the beeps show nothing of it. But the probe is
 *  lifted, and hum and all drop at once; an honest input then stays down, a level control brings everything up again as
 *  its release lets it. So after every steep fall from a steady level the slope of what follows is measured, until the sound
 *  jumps up again. A hand that nears the next wire raises the hum too, but last and fastest at the end; a level control
 *  begins at once.
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

/** @param[in] rate_hz  Of the analysis samples. @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_rebound_create(double rate_hz, struct thrum_rebound **rebound);
void thrum_rebound_destroy(struct thrum_rebound *rebound);

/** Hear n analysis samples. */
void thrum_rebound_feed(struct thrum_rebound *rebound, const float *x, size_t n);

/** What the falls of the last minute before a sample tell. */
struct thrum_rebound_value {
    int n;          /**< Falls. */
    double rise_db; /**< Mean rise after them. */
    double sd_db;   /**< Standard error of it. */
    double at_once; /**< Share of the rise that lies in its first half; 0.5 for a straight line. */
    double share;   /**< Of the falls, after how many it rose. */
    bool rides;     /**< A level control it is. */
};

/** @param[in] until  Only what had ended before this analysis sample. */
void thrum_rebound_judge(const struct thrum_rebound *rebound, uint64_t until,
                         struct thrum_rebound_value *value);

#endif
