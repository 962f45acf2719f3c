/** @file strength.h
 *  How strong one sender is in one touch: the maximum-likelihood value, its interval, and whether it is there.
 *
 *  The tone's frequency, drift, cadence phase, the complex amplitude of each beep and the slowly changing hum
 *  lines near the tone are estimated together; docs/measuring.md has the mathematics. Pure; no allocation after
 *  creation; one meter belongs to one thread.
 */
#ifndef THRUM_STRENGTH_METER_H
#define THRUM_STRENGTH_METER_H

#include <stddef.h>
#include <stdint.h>

#include "signal/beeps.h"
#include "thrum/reading.h"
#include "thrum/status.h"
#include "thrum/voice.h"

/** Longest stretch measured at once, seconds. */
#define THRUM_STRENGTH_MAX_S 60.0
/** Most beeps told about one by one. */
#define THRUM_STRENGTH_BEEPS 1024

/** One mains in the stretch. */
struct thrum_hum_source {
    double hz;             /**< Fundamental at the stretch's middle. */
    double slope_hz_per_s;
};

/** What lies behind a strength. */
struct thrum_strength_detail {
    double noise_density;   /**< Variance per hertz of the noise at the tone, full scale squared / Hz. */
    double gap_over_on_db;  /**< Steady sound at the tone's frequency in the pauses, over the beeps. */
    double slope_hz_per_s;  /**< The tone's drift. */
    bool hum_on_tone;       /**< A harmonic within 3 Hz of a tone. */
    bool other_cadence;     /**< A tone is there, and it does not keep the voice's cadence. */
    struct thrum_timing timing;
    int n_beeps;            /**< Beeps (or parts of long ones) measured. */
    struct thrum_beep beep[THRUM_STRENGTH_BEEPS]; /**< [n_beeps] */
    double power[THRUM_STRENGTH_BEEPS];    /**< |amplitude|^2 less its noise, [n_beeps]; may be negative. */
    double variance[THRUM_STRENGTH_BEEPS]; /**< Noise in |amplitude|^2: E|error of amplitude|^2. [n_beeps] */
};

struct thrum_strength_meter;

/** @retval THRUM_OK, THRUM_ERR_ARG (rate outside [8000, 16000), voice not valid), THRUM_ERR_MEM. */
enum thrum_status thrum_strength_meter_create(double rate_hz, const struct thrum_voice *voice,
                                              struct thrum_strength_meter **meter);
void thrum_strength_meter_destroy(struct thrum_strength_meter *meter);

/**
 * Measure.
 *
 * @param[in]  x         Analysis samples, full scale = +/-1, finite. Shape [n], n <= THRUM_STRENGTH_MAX_S of them.
 * @param[in]  hum       Mains to be reckoned with. Shape [n_hum], n_hum <= 2.
 * @param[out] strength  heard = false and beeps = 0 when n holds less than one beep.
 */
void thrum_strength_meter_run(struct thrum_strength_meter *meter, const float *x, size_t n,
                              const struct thrum_hum_source *hum, int n_hum, struct thrum_strength *strength);

/** What lay behind the last run. */
const struct thrum_strength_detail *thrum_strength_meter_detail(const struct thrum_strength_meter *meter);

#endif
