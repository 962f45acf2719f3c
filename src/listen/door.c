#include "listen/door.h"

#include <stdint.h>
#include <string.h>

#include "base/wide.h"

#ifdef __FAST_MATH__
#error "NaN must be seen here: build without -ffast-math"
#endif

#define MOST 8.0f

static inline size_t take(const float *from, size_t n, size_t stride, float *out)
{
    uint32_t bad = 0;
    for (size_t i = 0; i < n; i++) {
        uint32_t bits;
        memcpy(&bits, &from[i * stride], sizeof bits);
        uint32_t is_bad = (bits & 0x7F800000u) == 0x7F800000u; /* NaN or infinity, by its bits */
        float x;
        bad += is_bad;
        bits &= is_bad - 1u;
        memcpy(&x, &bits, sizeof x);
        x = x > MOST ? MOST : x;
        out[i] = x < -MOST ? -MOST : x;
    }
    return bad;
}

THRUM_WIDE size_t thrum_door_take(const float *samples, size_t n, int channels, int channel, float *out)
{
    if (channels == 1) /* the everyday case, which the compiler can do several at once */
        return take(samples, n, 1, out);
    return take(samples + channel, n, (size_t)channels, out);
}
