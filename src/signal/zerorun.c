#include "signal/zerorun.h"

#include <math.h>
#include <stdbool.h>

#include "base/wide.h"
#include "signal/extreme.h"

enum { SHORTEST = 32 };

#define FAR_STEPS 8.0f

THRUM_WIDE static int count_zeros(const float *x, int n)
{
    int zeros = 0;
    for (int i = 0; i < n; i++)
        zeros += x[i] == 0.0f;
    return zeros;
}

static bool is_hole(const struct thrum_zerorun *z, float after, float step, int longest)
{
    float far = FAR_STEPS * fminf(z->step, step);
    return z->before > 0.0f && z->run >= SHORTEST && z->run <= longest && z->before >= far &&
           fabsf(after) >= far;
}

int thrum_zerorun_feed(struct thrum_zerorun *zerorun, const float *x, int n, int longest)
{
    struct thrum_zerorun *z = zerorun;
    int zeros = count_zeros(x, n), holes = 0;
    if (zeros == n) {
        z->run = z->run > longest ? z->run : z->run + n;
        return 0;
    }
    if (zeros == 0 &&
        z->run == 0) { /* nearly always: no step is looked for, that where a hole ends will do */
        z->before = fabsf(x[n - 1]);
        z->step = INFINITY;
        return 0;
    }
    float step = thrum_smallest_step(x, n);
    if (z->run + zeros <
        SHORTEST) { /* too few for a hole, wherever they lie: only what they end with counts */
        int last = n - 1;
        while (x[last] == 0.0f)
            last--;
        *z = (struct thrum_zerorun){n - 1 - last, fabsf(x[last]), step};
        return 0;
    }
    for (int i = 0; i < n; i++) {
        if (x[i] == 0.0f) {
            z->run += z->run <= longest;
            continue;
        }
        holes += is_hole(z, x[i], step, longest);
        z->step = step;
        z->run = 0;
        z->before = fabsf(x[i]);
    }
    return holes;
}
