/** @file breathing.h
 *  Does all the rest of the sound breathe with the beeps?
 *
 *  Hum and noise know nothing of the sender: what they carry is the same in its beeps and in its pauses. A level control
 *  turns everything down while a beep lasts and lets it rise in the pause; a gate lets the floor vanish some time after the
 *  beep. So each beep's last part is compared with the last part of the pause that follows, in bands that keep clear of the
 *  tones; the low band, 20 to 230 Hz, where no sender is, apart.
 *
 *  Pure; no allocation after creation; one of it belongs to one thread.
 */
#ifndef THRUM_BREATHING_H
#define THRUM_BREATHING_H

#include <stddef.h>

#include "signal/touchfit.h"
#include "thrum/status.h"

/** A mean over the beeps, and how sure it is. */
struct thrum_breath {
    int n;     /**< Beeps with a pause that could be compared; the rest is 0 when there are none. */
    double db; /**< Level in the pauses over that in the beeps: above 0 it rises when the sender is silent. */
    double sd_db;    /**< Standard error of it. */
    double rises_db; /**< From the pause's beginning to its end. */
    double rises_sd_db;
    double share; /**< Of the beeps, in how many the pause is louder. */
};

struct thrum_breathing_value {
    struct thrum_breath rest; /**< Bands from 300 Hz up, tones and their odd harmonics left out. */
    struct thrum_breath low;  /**< 20 to 230 Hz: hum, if there is any. */
    double low_dbfs;          /**< Its level in the beeps. */
    /** Share of it that one line holds: hum has lines, whatever a beep brings along has none. */
    double low_line;
};

struct thrum_breathing;

/** @param[in] rate_hz  Of the analysis samples. @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_breathing_create(double rate_hz, struct thrum_breathing **breathing);
void thrum_breathing_destroy(struct thrum_breathing *breathing);

/**
 * Compare.
 *
 * @param[in]  x    The analysis samples that were fitted, shape [n].
 * @param[in]  fit  Tells where the beeps are.
 * @param[out] value  n = 0 for a voice without pauses, and for beeps or pauses too short for this (under 80 ms).
 */
void thrum_breathing_measure(struct thrum_breathing *breathing, const float *x, size_t n,
                             const struct thrum_touchfit_result *fit, struct thrum_breathing_value *value);

#endif
