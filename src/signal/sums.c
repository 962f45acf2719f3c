#include "signal/sums.h"

#include <stdint.h>
#include <string.h>

#include "base/wide.h"

enum { LANES = 16 };

/* A whole number that is ordered as the sample is, and back: numbers that the compiler finds the largest of many at once. */
static inline int32_t order_of(float x)
{
    int32_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits < 0 ? bits ^ INT32_MAX : bits;
}

static inline float ordered(int32_t order)
{
    float x;
    order = order < 0 ? order ^ INT32_MAX : order;
    memcpy(&x, &order, sizeof x);
    return x;
}

static inline void find_extremes(const float *x, int n, struct thrum_sums *s)
{
    int32_t high = order_of(x[0]), low = high;
    for (int i = 0; i < n; i++) {
        int32_t order = order_of(x[i]);
        high = order > high ? order : high;
        low = order < low ? order : low;
    }
    s->high = ordered(high);
    s->low = ordered(low);
}

THRUM_WIDE struct thrum_sums thrum_sums_of(const float *x, int n)
{
    float sum[LANES] = {0}, squares[LANES] = {0};
    struct thrum_sums s = {0};
    int whole = n - n % LANES;
    /* Two loops: of one, gcc makes shuffles that cost five times as much. */
    for (int i = 0; i < whole; i += LANES)
        for (int k = 0; k < LANES; k++)
            sum[k] += x[i + k];
    for (int i = 0; i < whole; i += LANES)
        for (int k = 0; k < LANES; k++)
            squares[k] += x[i + k] * x[i + k];
    for (int i = whole; i < n; i++) {
        s.sum += (double)x[i];
        s.squares += (double)(x[i] * x[i]);
    }
    for (int k = 0; k < LANES; k++) {
        s.sum += (double)sum[k];
        s.squares += (double)squares[k];
    }
    find_extremes(x, n, &s);
    return s;
}
