/** @file otherlines.h
 *  The steady lines in a run of spectra that belong to no mains: a machine's whine, a string, a sender that never pauses.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_SIGNAL_OTHERLINES_H
#define THRUM_SIGNAL_OTHERLINES_H

#include "signal/lines.h"
#include "signal/mains.h"

/**
 * @param[in]  lines     With its sums up to date; below 3 frames nothing is found.
 * @param[in]  mains     Shape [n_mains]: their harmonics are left out.
 * @param[in]  tones     What lies within 12 Hz of them is left out, and what may be a side band of their beeps.
 * @param[in]  most      At most THRUM_MAINS_OTHERS.
 * @param[out] hz        The strongest first, shape [most].
 * @return how many.
 */
int thrum_otherlines_list(const struct thrum_lines *lines, const struct thrum_mains_value *mains, int n_mains,
                          const struct thrum_lines_tones *tones, double *hz, int most);

#endif
