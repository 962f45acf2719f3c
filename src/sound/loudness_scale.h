/* Float files whose samples are whole numbers of some bit depth, not +/-1. */
#ifndef THRUM_SOUND_LOUDNESS_SCALE_H
#define THRUM_SOUND_LOUDNESS_SCALE_H

#include <stddef.h>
#include <stdint.h>

struct scale_finder {
    uint64_t bin[256]; /* samples by their float exponent */
    uint64_t counted;  /* finite and not 0 */
};

void scale_finder_feed(struct scale_finder *finder, const float *samples, size_t n);

/* The factor to multiply with: 1 when the samples are as they should be (up to 8), else 2^-15, 2^-23 or 2^-31.
 * A few wild values (one in a thousand) decide nothing. */
float scale_finder_result(const struct scale_finder *finder);

#endif
