/** @file levelrow.h
 *  The row of levels of a sender in a stretch of sound: every beep in small parts, hum taken out.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_LEVELROW_H
#define THRUM_LEVELROW_H

#include "listen/levels.h"
#include "signal/touchfit.h"

/**
 * @param[in]  fit     Its last run is meant.
 * @param[in]  result  Of that run.
 * @param[in]  at_s    Time of the stretch's first sample; the levels' times count from the same zero.
 * @param[out] row     Shape [max].
 * @return how many levels; the rest is left out.
 */
int thrum_levelrow_fill(const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                        double at_s, struct thrum_level *row, int max);

#endif
