/** @file riding.h
 *  Does a level control ride the gain, seen from all touches together? One touch may be too short to tell; a slow control
 *  shows in their sum.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_RIDING_H
#define THRUM_RIDING_H

#include "thrum/reading.h"

/** Gives THRUM_FAULT_GAIN_RIDING to all readings that could tell, when together they do. */
void thrum_riding_mark(struct thrum_reading *readings, int n);

#endif
