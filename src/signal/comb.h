/** @file comb.h
 *  Finds combs of steady, equally spaced lines in a run of half-overlapping spectra: what mains.h rests on.
 *
 *  A line that stays has, from one frame to the next, a phase step that tells its frequency far better than the
 *  bin it lies in. For every bin the lag-one product over all frames is summed; where it is large against the
 *  power, the bin holds a steady line. Fundamentals are tried from the low lines upward, each harmonic that fits
 *  narrowing the frequency; at the end phase, drift and level of all harmonics are fitted together.
 *
 *  Pure; no allocation after creation.
 */
#ifndef THRUM_SIGNAL_COMB_H
#define THRUM_SIGNAL_COMB_H

#include "signal/mains.h"

struct thrum_comb;

/**
 * @param[in]  rate_hz     Samples per second.
 * @param[in]  frame_s     Length of one frame; rounded to a size the transform likes.
 * @param[in]  max_frames  Frames kept, 4 or more; older ones are forgotten.
 */
enum thrum_status thrum_comb_create(double rate_hz, double frame_s, int max_frames, struct thrum_comb **comb);
void thrum_comb_destroy(struct thrum_comb *comb);
/** As thrum_mains_avoid(); beep_s may be NULL. */
void thrum_comb_avoid(struct thrum_comb *comb, const double *tones_hz, const double *beep_s, int n);

/** Samples in a frame; the hop is half of it. */
int thrum_comb_frame(const struct thrum_comb *comb);
int thrum_comb_max_frames(const struct thrum_comb *comb);

/** Frames held now. */
int thrum_comb_count(const struct thrum_comb *comb);

/** Forget all frames. */
void thrum_comb_clear(struct thrum_comb *comb);

/** The next frame, shape [thrum_comb_frame()], half a frame after the one before. */
void thrum_comb_push(struct thrum_comb *comb, const float *x);

/** What the frames hold; hz in the middle of all frames. */
void thrum_comb_estimate(struct thrum_comb *comb, struct thrum_mains_value out[THRUM_MAINS_MAX]);

/** Steady lines that belong to none of the mains of the last estimate and are not avoided, the strongest first.
 *  @param[in] most  At most THRUM_MAINS_OTHERS.  @param[out] hz  Shape [most].  @return how many. */
int thrum_comb_others(const struct thrum_comb *comb, double *hz, int most);

#endif
