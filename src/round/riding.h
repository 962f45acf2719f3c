/** @file riding.h
 *  Does a level control ride the gain, seen from all touches together? One touch may be too short to tell; a slow control
 *  shows in their sum.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_RIDING_H
#define THRUM_RIDING_H

#include "thrum/reading.h"

/** What the readings that could tell say together: a mean, its standard error, and of how many readings (0: the rest is 0). */
struct thrum_riding {
    int n, louder; /**< Of those, in how many it is above 0. */
    double db, sd_db;
};

/** Each reading weighed by its own error and by what readings differ beyond their errors. */
struct thrum_riding thrum_riding_together(const struct thrum_reading *readings, int n);

/** Gives THRUM_FAULT_GAIN_RIDING to all readings that could tell, when together they do. */
void thrum_riding_mark(struct thrum_reading *readings, int n);

#endif
