/** @file lines.h
 *  A run of half-overlapping spectra, and which of their bins hold a line that stays in phase.
 *
 *  A steady line has, from one frame to the next, a phase step that tells its frequency far better than the bin
 *  it lies in. For every bin the product of each frame with the one before is summed; where that sum is large
 *  against the power, the bin holds a steady line.
 *
 *  Pure; no allocation after creation.
 */
#ifndef THRUM_SIGNAL_LINES_H
#define THRUM_SIGNAL_LINES_H

#include <stdbool.h>
#include <stddef.h>

#include "signal/spectrum.h"

/** A tone named as no line sounds so near to it. */
#define THRUM_LINES_AVOID_HZ 12.0

/** Tones that are not to be taken for lines. */
struct thrum_lines_tones {
    const double *hz;     /**< [n] */
    const double *beep_s; /**< [n] How long each sounds at once, on average; infinite: not keyed. */
    int n;
};

/** Open for reading by those who fit lines; only the functions below write. */
struct thrum_lines {
    double rate_hz;
    int frame;           /**< Samples per frame. */
    int hop;             /**< Samples from frame to frame: half a frame. */
    int bins;            /**< Bins kept of each frame, from 0 Hz up. */
    int max_frames;      /**< Frames kept. */
    int count;           /**< Frames held. */
    int next;            /**< Slot of the next frame. */
    double bin_hz;       /**< Width of a bin. */
    double hop_s;        /**< Seconds from frame to frame. */
    float *re;           /**< [max_frames][bins] */
    float *im;           /**< [max_frames][bins] */
    float *power;        /**< [bins] Sum over the frames. */
    float *step_re;      /**< [bins] Sum over neighbouring frames: later times conjugate of earlier. */
    float *step_im;      /**< [bins] */
    float *pair;         /**< [bins] What the length of the step would be for a pure line. */
    double total;        /**< Mean power of the samples below the last bin; full-scale sine = 1. */
    double response[64]; /**< Loss of a line 0 to 1 bin off, in 63 steps. */
    struct thrum_spectrum *spectrum;
    float *window;          /* [frame] */
    float *block;           /* [frame] */
    struct thrum_bin *half; /* [frame / 2 + 1] */
};

/**
 * @param[in] rate_hz     Samples per second.
 * @param[in] frame_s     Length of a frame; rounded up to a size the transform likes.
 * @param[in] top_hz      Bins up to here are kept.
 * @param[in] max_frames  Frames kept, 4 or more; older ones are forgotten.
 */
enum thrum_status thrum_lines_create(double rate_hz, double frame_s, double top_hz, int max_frames,
                                     struct thrum_lines **lines);
void thrum_lines_destroy(struct thrum_lines *lines);

/** Forget all frames. */
void thrum_lines_clear(struct thrum_lines *lines);

/** The next frame, shape [frame], half a frame after the one before. */
void thrum_lines_push(struct thrum_lines *lines, const float *x);

/** Where the t-th frame held (0 = oldest) begins in re and im. */
size_t thrum_lines_at(const struct thrum_lines *lines, int t);

/** Brings the sums over the frames up to date. At least 2 frames must be held. */
void thrum_lines_sum(struct thrum_lines *lines);

/** How steady bin k is: 1 for a pure line, about 0.2 for noise, 0 for silence. */
double thrum_lines_steadiness(const struct thrum_lines *lines, int k);

/** The same as evidence: about minus the natural logarithm of the chance that noise is that steady. */
double thrum_lines_evidence(const struct thrum_lines *lines, double steadiness_squared);

/** That evidence for bin k. */
double thrum_lines_steady(const struct thrum_lines *lines, int k);

/** Is hz within THRUM_LINES_AVOID_HZ of one of the tones? */
bool thrum_lines_is_avoided(const struct thrum_lines_tones *tones, double hz);

/** Whether bin k stands out of the bins around. The skirt of a keyed tone may be steady, but is smooth. */
bool thrum_lines_prominent(const struct thrum_lines *lines, int k);

/** Frequency of the line in bin k from its phase step; within one bin of k. */
double thrum_lines_hz(const struct thrum_lines *lines, int k);

/** Variance of that, Hz squared. */
double thrum_lines_variance(const struct thrum_lines *lines, int k);

#endif
