#include "signal/extreme.h"

#include <math.h>

#include "base/wide.h"

enum {
    SHORTEST_RUN = 3, /* equal samples that may be clipping */
    MANY_RUNS = 8,
    FLAT_PIECES = 3 /* a clipped level stays, what a hand wobbles does not */
};

#define RAIL          0.98f
#define LOWEST_CLIP   0.01f  /* nothing is cut off below this */
#define STEEP_STEPS   8.0f   /* a clipped top falls off by more smallest steps than this */
#define FLAT          0.003f /* of the extreme: noise that came after the clipping lies within it */
#define FLAT_EDGE     10.0f  /* times that, two samples beyond a cut-off top; beside a sine's at most 9 */
#define COARSEST_STEP (1.0f / 128.0f) /* of sound in 8 bits */
#define SQUARE_SHARE  0.7             /* this much of the sound at its extremes is a square wave */

static float flat(float value)
{
    return FLAT * fabsf(value);
}

THRUM_WIDE float thrum_smallest_step(const float *x, int n)
{
    float smallest = COARSEST_STEP;
    for (int i = 1; i < n; i++) {
        float d = fabsf(x[i] - x[i - 1]);
        if (d > 0.0f && d < smallest)
            smallest = d;
    }
    return smallest;
}

THRUM_WIDE static int count_equal(const float *x, int n, float value)
{
    int count = 0;
    for (int i = 0; i < n; i++)
        count += x[i] == value;
    return count;
}

/* Runs at the extreme `value` of a block (sign = -1: the lowest). Clipping cuts a wave off steeply: half a run's
   length beyond its ends the sound is many steps away. The top of a slow wave that is only rounded is not. */
static void find_runs(struct thrum_extreme *extreme, const float *x, int n, float value)
{
    float step = thrum_smallest_step(x, n);
    for (int i = 0; i < n;) {
        int start = i;
        while (i < n && x[i] == value)
            i++;
        int run = i - start, before = start - (run + 1) / 2, after = i - 1 + (run + 1) / 2;
        if (run == 0)
            i++;
        if (run < SHORTEST_RUN)
            continue;
        float fall = 0.0f;
        if (before >= 0)
            fall = fabsf(value - x[before]);
        if (after < n && (before < 0 || fabsf(value - x[after]) < fall))
            fall = fabsf(value - x[after]);
        if (fall > STEEP_STEPS * step) {
            extreme->runs++;
            extreme->samples += (uint32_t)run;
        }
    }
}

/* Tops at about `value`, an extreme with its sign, that are flat but for a little noise and steep beside it. */
static void find_flats(struct thrum_extreme *extreme, const float *x, int n, float value, float sign)
{
    float tolerance = flat(value), low = value - tolerance, edge = value - FLAT_EDGE * tolerance;
    for (int i = 0; i < n;) {
        int start = i;
        while (i < n && sign * x[i] >= low)
            i++;
        int run = i - start;
        if (run == 0)
            i++;
        if (run < SHORTEST_RUN || start < 2 || i + 1 >= n)
            continue;
        if (sign * x[start - 2] < edge && sign * x[i + 1] < edge) {
            extreme->flats++;
            extreme->flat_samples += (uint32_t)run;
        }
    }
}

THRUM_WIDE static int count_from(const float *x, int n, float low, float sign)
{
    int count = 0;
    for (int i = 0; i < n; i++)
        count += sign * x[i] >= low;
    return count;
}

/* A higher extreme is another level, and what was flat below it was no clipping, unless it is within FLAT of it. */
static void raise_extreme(struct thrum_extreme *extreme, float value)
{
    struct thrum_extreme higher = {.value = value};
    if (extreme->value >= value - flat(value)) {
        higher.flats = extreme->flats;
        higher.flat_samples = extreme->flat_samples;
        higher.flat_pieces = extreme->flat_pieces;
    }
    *extreme = higher;
}

void thrum_extreme_add(struct thrum_extreme *extreme, const float *x, int n, float value, float sign)
{
    float top = sign * value;
    if (top < extreme->value - flat(extreme->value))
        return;
    if (top > extreme->value)
        raise_extreme(extreme, top);
    if (top < LOWEST_CLIP)
        return;
    if (count_from(x, n, top - flat(top), sign) >= SHORTEST_RUN)
        find_flats(extreme, x, n, top, sign);
    extreme->flat_pieces = extreme->flats > 0;
    if (top == extreme->value && count_equal(x, n, value) >= SHORTEST_RUN)
        find_runs(extreme, x, n, value);
}

void thrum_extreme_join(struct thrum_extreme *all, const struct thrum_extreme *one)
{
    if (one->value > all->value) {
        raise_extreme(all, one->value);
        all->runs = all->samples = 0;
    }
    if (one->value == all->value) {
        all->runs += one->runs;
        all->samples += one->samples;
    }
    if (one->value >= all->value - flat(all->value)) {
        all->flats += one->flats;
        all->flat_samples += one->flat_samples;
        all->flat_pieces += one->flat_pieces;
    }
}

bool thrum_extremes_clipped(const struct thrum_extreme *high, const struct thrum_extreme *low,
                            uint64_t frames)
{
    if (high->value > 1.0f || low->value > 1.0f)
        return true;
    if ((high->runs > 0 && high->value >= RAIL) || (low->runs > 0 && low->value >= RAIL))
        return true;
    double share = (double)(high->samples + low->samples) / (double)frames;
    if (high->runs + low->runs >= MANY_RUNS && share < SQUARE_SHARE)
        return true;
    share = (double)(high->flat_samples + low->flat_samples) / (double)frames;
    return high->flats + low->flats >= MANY_RUNS && share < SQUARE_SHARE &&
           (high->flat_pieces >= FLAT_PIECES || low->flat_pieces >= FLAT_PIECES);
}
