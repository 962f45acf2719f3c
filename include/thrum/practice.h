/** @file practice.h
 *  The practice bundle: a seeded bundle of wires, sender, probe, hand and mains, as a source of sound.
 *
 *  Pure: no I/O, no clock, no allocation after creation. The same configuration gives the same samples on every
 *  machine. The physics is written up in docs/practice.md.
 */
#ifndef THRUM_PRACTICE_H
#define THRUM_PRACTICE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "thrum/status.h"
#include "thrum/units.h"
#include "thrum/voice.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How the other wires of the bundle end. */
enum thrum_ending {
    THRUM_ENDING_FREE,   /**< All others hang free: neighbours only 2 to 3 dB down. */
    THRUM_ENDING_SOME,   /**< Some tied to the common, drawn from the seed: about 10 dB. */
    THRUM_ENDING_TIED,   /**< All others tied: 11 to 16 dB and more. */
    THRUM_ENDING_LOADED, /**< Others end in a low impedance: tens of dB. */
    THRUM_ENDING_SHARED  /**< The tone is shared by the common: nearly equal everywhere. */
};

struct thrum_practice_config {
    uint64_t seed;
    int n_wires;             /**< 2 to THRUM_MAX_WIRES. */
    double rate_hz;          /**< 8000 to 192000. */
    struct thrum_voice voice;
    enum thrum_ending ending;
    bool no_sender;          /**< Nothing drives any wire. */
    bool square;             /**< The sender is a square wave. */
    double drift_hz_per_s;   /**< The tone moves. */
    double sag_db_per_min;   /**< The sender fades. */
    double tone_dbfs;        /**< Strength with the probe on the driven wire. */
    double hum_over_tone_db; /**< Total hum (RMS) over that tone; below -100: no hum. */
    double mains_hz;         /**< 45 to 66. */
    int harmonics;           /**< 1 to 66. */
    double mains_wander_hz;  /**< Standard deviation of the slow wander. */
    double hum_wobble_db;    /**< Slow change of each harmonic's level. */
    double noise_dbfs;       /**< RMS of white noise over 0 to 24 kHz (its density is what is kept at other rates). */
    double hand_wobble_db;   /**< Slow wobble within a touch. */
    double placement_db;     /**< Spread from touch to touch. */
    double touch_s;          /**< How long each wire is touched in the walk. */
    double lift_s;           /**< How long the probe is in the air between wires. */
};

/** Hollin Fern House: 24 wires, 48 kHz, 1037 Hz 250/250 ms, 50 Hz mains 20 dB over the tone, some tied. */
struct thrum_practice_config thrum_practice_config_default(uint64_t seed);

struct thrum_practice;

/** @retval THRUM_OK, THRUM_ERR_ARG (a field is outside its range), THRUM_ERR_MEM. */
enum thrum_status thrum_practice_create(const struct thrum_practice_config *config, struct thrum_practice **practice);
void thrum_practice_destroy(struct thrum_practice *practice);

/** Where the probe is. */
#define THRUM_PROBE_IN_AIR  (-1)
#define THRUM_PROBE_AT_LEAD (-2) /**< On the sender's own lead: strong tone, hum equal to it or less. */

/**
 * Put the probe somewhere from the next frame on. Every call is a new placement, also on the same wire.
 * @param[in] wire  Index, THRUM_PROBE_IN_AIR or THRUM_PROBE_AT_LEAD; anything else is taken as in the air.
 */
void thrum_practice_place(struct thrum_practice *practice, int wire);

/** Make the next frames, mono, full scale = +/-1. @param[out] samples shape [n_frames]. Cannot fail. */
void thrum_practice_read(struct thrum_practice *practice, float *samples, size_t n_frames);

/** The wire the sender drives; -1 if none. */
int thrum_practice_driven(const struct thrum_practice *practice);

/** Strength of the tone on a wire without hand and placement, dBFS; THRUM_FLOOR_DBFS for none. */
double thrum_practice_strength(const struct thrum_practice *practice, int wire);

/** Strength of the present placement as played (placement included, wobble at its mean), dBFS. */
double thrum_practice_placed_strength(const struct thrum_practice *practice);

/** One stretch of the walk that goes over all wires in order, each touched once, lifted between. */
struct thrum_practice_stop {
    int wire;         /**< Index, or THRUM_PROBE_IN_AIR. */
    uint64_t frames;
};

/** Length of the walk in stops: air, wire 0, air, wire 1, ... air. */
int thrum_practice_walk_stops(const struct thrum_practice *practice);
/** Stop number i of the walk, 0 to thrum_practice_walk_stops() - 1. */
struct thrum_practice_stop thrum_practice_walk_stop(const struct thrum_practice *practice, int i);

#ifdef __cplusplus
}
#endif
#endif
