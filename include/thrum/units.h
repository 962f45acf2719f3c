/** @file units.h
 *  Decibels and limits shared by all parts.
 *
 *  Level convention: AES17, a sine whose peaks just reach full scale has an RMS level of 0 dBFS. A sine of
 *  amplitude a (full scale = 1) therefore reads 20 lg a, and a signal of RMS r reads 20 lg r + 3.0103.
 */
#ifndef THRUM_UNITS_H
#define THRUM_UNITS_H

#ifdef __cplusplus
extern "C" {
#endif

#define THRUM_PI 3.14159265358979323846

/** What silence reads: no level is ever reported below it. */
#define THRUM_FLOOR_DBFS (-200.0)

#define THRUM_RATE_MIN_HZ   8000.0   /**< Lowest sample rate that can be measured. */
#define THRUM_RATE_MAX_HZ   192000.0 /**< Highest sample rate that can be measured. */
#define THRUM_TONE_MIN_HZ   300.0    /**< Lowest tone of a voice. */
#define THRUM_TONE_MAX_HZ   3400.0   /**< Highest tone of a voice. */
#define THRUM_MAX_SENDERS   8        /**< Voices heard at once. */
#define THRUM_MAX_WIRES     1024     /**< Wires of one round. */
#define THRUM_MAX_READINGS  2048     /**< Readings of one round. */
#define THRUM_WIRE_TAG_SIZE 32       /**< Bytes of a wire's tag, with the closing zero. */

/** 20 lg(amplitude); THRUM_FLOOR_DBFS for zero, negative values and NaN. A sine of amplitude 1 gives 0. */
double thrum_db_from_amplitude(double amplitude);

/** 10 lg(ratio of powers); THRUM_FLOOR_DBFS for zero, negative values and NaN. */
double thrum_db_from_power(double power);

/** 10^(db/20). */
double thrum_amplitude_from_db(double db);

/** 10^(db/10). */
double thrum_power_from_db(double db);

#ifdef __cplusplus
}
#endif
#endif
