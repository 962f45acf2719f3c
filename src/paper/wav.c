#include "paper/wav.h"

#include <math.h>
#include <stdint.h>

#define BYTES 2 /* of a sample */

static void put_number(struct paper_text *wav, uint32_t number, int bytes)
{
    for (; bytes > 0; bytes--, number >>= 8) {
        unsigned char low = (unsigned char)(number & 0xFF);
        paper_put_bytes(wav, &low, 1);
    }
}

void paper_put_wav(struct paper_text *wav, const float *samples, size_t n, double rate_hz)
{
    uint32_t rate = (uint32_t)lround(rate_hz), size = (uint32_t)n * BYTES;
    paper_put(wav, "RIFF");
    put_number(wav, 36 + size, 4);
    paper_put(wav, "WAVEfmt ");
    put_number(wav, 16, 4);
    put_number(wav, 1, 2); /* PCM */
    put_number(wav, 1, 2); /* mono */
    put_number(wav, rate, 4);
    put_number(wav, rate * BYTES, 4);
    put_number(wav, BYTES, 2);
    put_number(wav, 8 * BYTES, 2);
    paper_put(wav, "data");
    put_number(wav, size, 4);
    for (size_t i = 0; i < n; i++) {
        double x = isfinite(samples[i]) ? fmin(fmax((double)samples[i], -1.0), 1.0) : 0.0;
        put_number(wav, (uint32_t)(int32_t)lround(32767.0 * x), BYTES);
    }
}
