#include "sound/loudness_scale.h"

#include <string.h>

#define BIAS 127

/* The exponent is read from the bits: no arithmetic on NaN or infinity. */
static unsigned exponent_of(float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    return (bits >> 23) & 0xFF;
}

void scale_finder_feed(struct scale_finder *finder, const float *samples, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        unsigned e = exponent_of(samples[i]);
        if (e > 0 && e < 255) {
            finder->bin[e]++;
            finder->counted++;
        }
    }
}

float scale_finder_result(const struct scale_finder *finder)
{
    uint64_t above = 0;
    int e = 254;
    while (e > 0 && (above + finder->bin[e]) * 1000 <= finder->counted)
        above += finder->bin[e--];
    int bits = e - BIAS; /* all but the wild ones are below 2^(bits + 1) */
    if (finder->counted == 0 || bits < 3 || bits > 31)
        return 1.0f;
    return bits < 15 ? 0x1p-15f : bits < 23 ? 0x1p-23f : 0x1p-31f;
}
