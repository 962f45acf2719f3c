/** @file tonefind.h
 *  Which tones are keyed in a sound: lines that are now there and now not.
 *
 *  A keyed tone is a bin whose power scatters far more than that of its neighbourhood. Steady hum hardly
 *  scatters; noise scatters as its neighbourhood does. Pure; no allocation.
 */
#ifndef THRUM_TONEFIND_H
#define THRUM_TONEFIND_H

#include <stdbool.h>

#include "signal/shorttime.h"

#define THRUM_TONEFIND_MAX 24

/** One line that comes and goes. */
struct thrum_keyed {
    double hz;
    int bin;
    double on, off; /**< Amplitude while it sounds, and while it does not. */
    double share;   /**< Of the time that it sounds, 0 to 1. */
};

/**
 * Lines that stand out of their neighbourhood by their scatter, loudest first.
 * @param[out] found  Shape [THRUM_TONEFIND_MAX].
 */
int thrum_tonefind_list(const struct thrum_shorttime *sound, double low_hz, double high_hz,
                        struct thrum_keyed *found);

/**
 * Of these, the tones of the sender: the loudest, and what sounds only while it is silent and nearly as loud.
 * Harmonics sound together with their fundamental and are left out; of two tones at once the louder stays.
 *
 * @param[out] tones  Shape [max].
 */
int thrum_tonefind_choose(const struct thrum_shorttime *sound, const struct thrum_keyed *found, int n,
                          struct thrum_keyed *tones, int max);

/**
 * The strongest line that does not come and go.
 * @param[out] tone  off = 0, share = 1.
 * @return false when none stands out.
 */
bool thrum_tonefind_steady(const struct thrum_shorttime *sound, double low_hz, double high_hz,
                           struct thrum_keyed *tone);

/** How much of the tone is there in frame t: 0 as when silent, 1 as when it sounds. */
double thrum_tonefind_level(const struct thrum_shorttime *sound, const struct thrum_keyed *tone, int t);

#endif
