#include "listen/rate.h"

#include <math.h>
#include <stdbool.h>

#define RATIO (48000.0 / 44100.0)
/* Farther than any grid goes: 49.8 to 50.2 Hz are kept (EN 50160 allows 1 % for all but 0.5 % of the time; from memory). */
#define OFF_HZ 0.3

static bool is_grid(double hz)
{
    return fabs(hz - 50.0) < OFF_HZ || fabs(hz - 60.0) < OFF_HZ;
}

double thrum_rate_made_at(double mains_hz, double claimed_hz)
{
    if (!(mains_hz > 0.0) || is_grid(mains_hz))
        return 0.0;
    if (is_grid(mains_hz / RATIO))
        return claimed_hz / RATIO;
    if (is_grid(mains_hz * RATIO))
        return claimed_hz * RATIO;
    return 0.0;
}
