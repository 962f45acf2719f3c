/** @file decimate.h
 *  From the input's rate down to the analysis rate, one channel.
 *
 *  The analysis rate is the input's divided by a whole number, so that it lies in [8000, 16000) Hz. What would
 *  fold into 0 to 3500 Hz is at least 75 dB down; 0 to 3500 Hz pass within 0.002 dB. Output sample k belongs to
 *  input frame k times the factor: the filter's delay is taken out by answering late.
 *
 *  Pure; no allocation after creation; any split into blocks gives the same digits; one thread at a time.
 */
#ifndef THRUM_DECIMATE_H
#define THRUM_DECIMATE_H

#include <stddef.h>

#include "thrum/status.h"

struct thrum_decimate;

/** Whole number by which a rate is divided; 8000 to 192000 Hz in, 1 to 24 out. */
int thrum_decimate_factor(double rate_hz);

/** @retval THRUM_OK, THRUM_ERR_ARG (rate outside 8000 to 192000 Hz), THRUM_ERR_MEM. */
enum thrum_status thrum_decimate_create(double rate_hz, struct thrum_decimate **decimate);
void thrum_decimate_destroy(struct thrum_decimate *decimate);

/**
 * @param[in]  samples  Shape [n]; must be finite.
 * @param[out] out      Room for n / factor + 1.
 * @return samples written to out.
 */
size_t thrum_decimate_feed(struct thrum_decimate *decimate, const float *samples, size_t n, float *out);

/** Push the last samples out at the end, as if silence followed. @param[out] out room for thrum_decimate_tail(). */
size_t thrum_decimate_finish(struct thrum_decimate *decimate, float *out);
size_t thrum_decimate_tail(const struct thrum_decimate *decimate);

#endif
