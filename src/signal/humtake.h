/** @file humtake.h
 *  Takes the hum of known mains out of a whole sound: every harmonic is followed by its slowly changing amplitude.
 *
 *  For learning, where the sound may be looked at as often as needed. A harmonic's amplitude is a Hann-weighted
 *  mean over about 0.8 s of the sound turned back by it, so what keys or lies 3 Hz beside it hardly counts.
 *  Pure; no allocation after creation.
 */
#ifndef THRUM_HUMTAKE_H
#define THRUM_HUMTAKE_H

#include <stddef.h>

#include "signal/humlines.h"
#include "thrum/status.h"

struct thrum_humtake;

/** @param[in] n_max  Most samples of a sound. @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_humtake_create(double rate_hz, size_t n_max, struct thrum_humtake **take);
void thrum_humtake_destroy(struct thrum_humtake *take);

/**
 * Measure the hum in `heard` and subtract it from `x`. They may be the same sound; better is a `heard` from which
 * the sender's tone has been taken already.
 *
 * @param[in]     heard  Shape [n].
 * @param[in,out] x      Shape [n].
 * @param[in]     hum    Frequencies at the sound's middle; shape [n_hum].
 */
void thrum_humtake_run(struct thrum_humtake *take, const float *heard, float *x, size_t n,
                       const struct thrum_hum_source *hum, int n_hum);

#endif
