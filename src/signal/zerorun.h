/** @file zerorun.h
 *  Finds short stretches of exact zeros that are cut into the sound: what a driver hands out in place of frames it has lost.
 *
 *  From 32 frames to 30 ms, with a sound on both sides that is far from zero, counted in its smallest steps: noise of one or two steps
 *  is zero for long, and what fades out by itself, or a pause of a sender (40 ms and more), is no hole.
 *
 *  Pure; no allocation.
 */
#ifndef THRUM_SIGNAL_ZERORUN_H
#define THRUM_SIGNAL_ZERORUN_H

/** One channel's sound so far. Begin with all 0. */
struct thrum_zerorun {
    int run;      /**< Zeros up to now. */
    float before; /**< The last sample that was none, its size. */
    float step;   /**< Smallest step of the block that sample was in; infinite where it was not looked for. */
};

/** The next block, shape [n], and what 30 ms are in frames. Returns how many holes ended in it. */
int thrum_zerorun_feed(struct thrum_zerorun *zerorun, const float *x, int n, int longest);

#endif
