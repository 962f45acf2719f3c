/* Sound as the bytes of a WAV file, for a page that plays it. */
#ifndef THRUM_PAPER_WAV_H
#define THRUM_PAPER_WAV_H

#include <stddef.h>

#include "paper/text.h"

/* 16 bit, mono, little-endian. samples: shape [n], limited to full scale = +/-1, NaN is 0; n at most 2^30. */
void paper_put_wav(struct paper_text *wav, const float *samples, size_t n, double rate_hz);

#endif
