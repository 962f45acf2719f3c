/** @file hunt.h
 *  The search for a voice in one channel's sound: tones that are keyed, when each sounds, what repeats; then the
 *  exact fits; and where there is none, what there is instead.
 *
 *  Allocates while it works (the exact fits depend on the voice that is found). One hunt belongs to one thread.
 */
#ifndef THRUM_HUNT_H
#define THRUM_HUNT_H

#include <stddef.h>

#include "thrum/learn.h"

struct thrum_hunt;

/** @param[in] n_max  Most samples of a sound. @retval THRUM_OK, THRUM_ERR_ARG, THRUM_ERR_MEM. */
enum thrum_status thrum_hunt_create(double rate_hz, size_t n_max, struct thrum_hunt **hunt);
void thrum_hunt_destroy(struct thrum_hunt *hunt);

/**
 * @param[in]  x        Analysis samples, finite, shape [n].
 * @param[out] learned  All but the channel.
 * @retval THRUM_OK, THRUM_ERR_NOT_FOUND, THRUM_ERR_MEM.
 */
enum thrum_status thrum_hunt_run(struct thrum_hunt *hunt, const float *x, size_t n,
                                 struct thrum_learned *learned);

#endif
