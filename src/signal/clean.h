/** @file clean.h
 *  Takes the hum out of what the technician hears.
 *
 *  Each harmonic of the mains is followed by a phasor that turns with it; what the phasors say is subtracted. That
 *  acts as a notch of constant width around each harmonic, wherever the mains goes: second order, half width 1.1 Hz,
 *  within 12 Hz of a named tone first order, 0.2 and within 5 Hz 0.06 once the mains has been followed for some
 *  seconds, and deaf to what is louder than the quiet times, so that beeps keep their side lines. What turns all wide
 *  ones alike is the mains itself moving, and turns the narrow ones too. A harmonic within the guard band of a named
 *  tone is left alone: a notch there would falsify the beeps, and the gate tells them apart elsewhere. One that was
 *  taken up outside of it may wander in by half. Up to two mains at once. No delay: the output is that of the same
 *  sample. Until the mains is known (1 s) the sound passes as it is.
 *
 *  Works on the analysis signal: mono, 8000 to 16000 samples a second.
 *  Pure: no I/O, no clock, no locks, no allocation after creation. One object belongs to one thread at a time.
 */
#ifndef THRUM_SIGNAL_CLEAN_H
#define THRUM_SIGNAL_CLEAN_H

#include <stddef.h>
#include <stdint.h>

#include "signal/mains.h"
#include "thrum/status.h"

struct thrum_clean_config {
    double rate_hz;  /**< 8000 to 16000. */
    double guard_hz; /**< Harmonics closer than this to a tone are left alone, 0 to 20; 3. */
    int n_tones;     /**< 0 to THRUM_MAINS_AVOID. */
    double tones_hz[THRUM_MAINS_AVOID]; /**< [n_tones] All tones of all voices. */
};

/** Guard 3 Hz, no tones. */
struct thrum_clean_config thrum_clean_config_default(double rate_hz);

struct thrum_clean;

/**
 * Make a hum remover.
 *
 * @param[in]  config  Copied. Not NULL.
 * @param[out] clean   Owned by the caller, or NULL on error. Free with thrum_clean_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  A field is outside its range.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_clean_create(const struct thrum_clean_config *config, struct thrum_clean **clean);

/** Free it. NULL is allowed. */
void thrum_clean_destroy(struct thrum_clean *clean);

/** As new. */
void thrum_clean_reset(struct thrum_clean *clean);

/**
 * Clean the next samples. Cannot fail. Any split of a sound into calls gives the same output to the last digit.
 *
 * @param[in]  x  Finite, full scale = +/-1, shape [n].
 * @param[out] y  Shape [n]; may be x itself.
 */
void thrum_clean_feed(struct thrum_clean *clean, const float *x, float *y, size_t n);

/** The mains as tracked inside, as thrum_mains_tracker_now() gives it: no second tracker is needed. */
void thrum_clean_mains(const struct thrum_clean *clean, struct thrum_mains_value out[THRUM_MAINS_MAX]);

/** Level of what is being taken out at this moment, dBFS. */
double thrum_clean_removed_dbfs(const struct thrum_clean *clean);

#endif
