#include "listen/door.h"

#include <stdint.h>
#include <string.h>

#ifdef __FAST_MATH__
#error "NaN must be seen here: build without -ffast-math"
#endif

#define MOST 8.0f

size_t thrum_door_take(const float *samples, size_t n, int channels, int channel, float *out)
{
    size_t bad = 0;
    const float *from = samples + channel;
    for (size_t i = 0; i < n; i++) {
        float x = from[i * (size_t)channels];
        uint32_t bits;
        memcpy(&bits, &x, sizeof bits);
        if ((bits & 0x7F800000u) == 0x7F800000u) {
            x = 0.0f;
            bad++;
        }
        out[i] = x > MOST ? MOST : x < -MOST ? -MOST : x;
    }
    return bad;
}
