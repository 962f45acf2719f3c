/** @file segment.h
 *  When each tone of a sender sounds: the sound cut into runs of one tone or none.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_SEGMENT_H
#define THRUM_SEGMENT_H

#include "signal/pattern.h"
#include "signal/tonefind.h"

/**
 * Cut the sound. An edge lies where the tone passes half its amplitude, or where two tones are equally loud.
 *
 * @param[in]  least_s  Shorter runs are taken for disturbances and given to their neighbours.
 * @param[out] runs     Neighbours unlike, without holes. Shape [max]; runs beyond that are left out.
 * @return how many.
 */
int thrum_segment_cut(const struct thrum_shorttime *sound, const struct thrum_keyed *tones, int n_tones,
                      double least_s, struct thrum_run *runs, int max);

#endif
