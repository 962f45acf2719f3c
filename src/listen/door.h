/** @file door.h
 *  Where samples come in: NaN and infinity become 0, what is beyond +/-8 is limited, channels are taken apart.
 */
#ifndef THRUM_DOOR_H
#define THRUM_DOOR_H

#include <stddef.h>

/**
 * Take one channel out of interleaved samples and clean it.
 *
 * @param[in]  samples  Interleaved, shape [n * channels].
 * @param[out] out      Shape [n].
 * @return how many samples were not finite.
 */
size_t thrum_door_take(const float *samples, size_t n, int channels, int channel, float *out);

#endif
