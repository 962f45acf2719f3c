/** @file practice.h
 *  The practice bundle: a seeded bundle of wires, sender, probe, hand and mains, as a source of sound.
 *
 *  Pure: no I/O, no clock, no locks, no allocation after creation. One practice bundle belongs to one thread.
 *  The same configuration gives the same samples on every machine. The physics: docs/practice.md.
 */
#ifndef THRUM_PRACTICE_H
#define THRUM_PRACTICE_H

#include "thrum/status.h"
#include "thrum/units.h"
#include "thrum/voice.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define THRUM_PRACTICE_MAX_WIRES 128 /**< Wires of a practice bundle, at most. */

/** How the other wires of the bundle end; the levels are those of the driven wire's strongest neighbour. */
enum thrum_ending {
    THRUM_ENDING_FREE,   /**< All others hang free: 1 to 3 dB down. */
    THRUM_ENDING_SOME,   /**< Four in ten of the others tied to the common, drawn by the seed: about 10 dB. */
    THRUM_ENDING_TIED,   /**< All others tied, the one touched lifted for it: 8 to 16 dB, most far below. */
    THRUM_ENDING_LOADED, /**< Others end in coils, 1 to 2 kohm: about 30 dB, 20 dB per decade of frequency. */
    THRUM_ENDING_SHARED  /**< The tone is shared by the common: alike everywhere to some tenths of a dB. */
};

/** What the sound input does wrong. */
enum thrum_practice_fault {
    THRUM_PRACTICE_NO_FAULT,
    THRUM_PRACTICE_GAIN_RIDING, /**< A level control: attack 10 ms, release 0.4 s, ratio 4. */
    THRUM_PRACTICE_GATED,       /**< Zeros where it is quieter than tone and hum together. */
    THRUM_PRACTICE_SUPPRESSED,  /**< Beeps fade within 0.4 s, hum and noise lie 20 dB lower. */
    THRUM_PRACTICE_CLIPPED,     /**< Tops are cut off, far below full scale. */
    THRUM_PRACTICE_DC,          /**< A constant, 5 % of full scale. */
    THRUM_PRACTICE_SILENT,      /**< Nothing but zeros. */
    THRUM_PRACTICE_LOST,        /**< Every 0.9 s, 10 ms come twice in place of what follows. */
    THRUM_PRACTICE_FAULTS
};

/** "none", "gain-riding", "gated" ...; NULL for what is no fault. Static storage. */
const char *thrum_practice_fault_name(enum thrum_practice_fault fault);
/** The other way; false, and nothing written, for a name that is none. */
bool thrum_practice_fault_find(const char *name, enum thrum_practice_fault *fault);

/** Every number must be finite and in its range. */
struct thrum_practice_config {
    uint64_t seed;
    int n_wires;              /**< 2 to THRUM_PRACTICE_MAX_WIRES. */
    double rate_hz;           /**< 8000 to 192000. */
    struct thrum_voice voice; /**< Passes thrum_voice_check(). */
    int n_more;               /**< Further senders, each on a wire of its own and up to 10 dB weaker; 0 to
                                   THRUM_MAX_SENDERS - 1, fewer than there are wires. */
    struct thrum_voice more[THRUM_MAX_SENDERS - 1]; /**< Their voices. [n_more] */
    enum thrum_ending ending;
    bool no_sender;          /**< Nothing drives any wire. */
    bool square;             /**< The sender is a square wave; strengths are those of its fundamental. */
    double drift_hz_per_s;   /**< The tone moves; -100 to 100. */
    double sag_db_per_min;   /**< The sender fades; 0 to 60. */
    double tone_dbfs;        /**< Strength with the probe on the driven wire; -150 to 0. */
    double hum_over_tone_db; /**< Total hum (RMS) over that tone on the driven wire; below -100: no hum;
                                  -1000 to 80. */
    double mains_hz;         /**< 45 to 66. */
    int harmonics;           /**< 1 to 66; those above 0.45 of the rate are left out. */
    double mains_wander_hz;  /**< Standard deviation of the slow wander; 0 to 1. */
    double hum_wobble_db;    /**< Slow change of each harmonic's level, standard deviation; 0 to 10. */
    double noise_dbfs;       /**< RMS of white noise over 0 to 24 kHz (its density is kept at other rates);
                                  -1000 to 0. */
    double hand_wobble_db;   /**< Slow wobble within a touch, standard deviation; 0 to 10. */
    double placement_db;     /**< Spread from touch to touch, standard deviation; 0 to 20. */
    double touch_s;          /**< How long each wire is touched in the walk; 0.01 to 3600. */
    enum thrum_practice_fault fault; /**< Of the input. */
    double lift_s;                   /**< How long the probe is in the air between wires; 0 to 3600. */
};

/** Hollin Fern House: 24 wires, 48 kHz, 1037 Hz 250/250 ms, 50 Hz mains 20 dB over the tone, some tied. */
struct thrum_practice_config thrum_practice_config_default(uint64_t seed);

struct thrum_practice;

/**
 * Make a practice bundle; the probe begins in the air.
 *
 * @param[in]  config    Copied. Not NULL.
 * @param[out] practice  Owned by the caller, or NULL on error. Free with thrum_practice_destroy().
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  A field is outside its range.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_practice_create(const struct thrum_practice_config *config,
                                        struct thrum_practice **practice);

/** Free it. NULL is allowed. */
void thrum_practice_destroy(struct thrum_practice *practice);

/** Where the probe is. */
#define THRUM_PROBE_IN_AIR (-1)
/** On the sender's own lead: strong tone, hum equal to it or less. Further senders: THRUM_PROBE_AT_LEAD - 1
 *  and so on. */
#define THRUM_PROBE_AT_LEAD (-2)

/**
 * Put the probe somewhere from the next frame on; it is there 30 ms later. Every call is a new placement,
 * also on the same wire.
 *
 * @param[in] wire  Index, THRUM_PROBE_IN_AIR or a lead; anything else is taken as in the air.
 */
void thrum_practice_place(struct thrum_practice *practice, int wire);

/**
 * The same for a group of wires that are held together around the probe's tip, apart from the others, which are then out of
 * its reach. Where in the group each wire lies is drawn anew every time.
 *
 * @param[in] first, last  Indices, 0 <= first <= last < n_wires; anything else is taken as in the air.
 */
void thrum_practice_place_group(struct thrum_practice *practice, int first, int last);

/**
 * Make the next frames, mono, limited to full scale = +/-1. Cannot fail. Any split into blocks gives the same
 * samples.
 *
 * @param[out] samples   Shape [n_frames].
 * @param[in]  n_frames  0 is allowed; samples may then be NULL.
 */
void thrum_practice_read(struct thrum_practice *practice, float *samples, size_t n_frames);

/** The wire the sender drives; -1 if none. Its index says nothing of its place in the bundle. */
int thrum_practice_driven(const struct thrum_practice *practice);

/** Strength of the tone on a wire without hand, placement and sag, dBFS; THRUM_FLOOR_DBFS for none and where
 *  there is no wire. */
double thrum_practice_strength(const struct thrum_practice *practice, int wire);

/** Strength of the present placement as played now (placement and sag included, wobble at its mean), dBFS;
 *  THRUM_FLOOR_DBFS in the air and without a sender. On the lead it is the lead's. */
double thrum_practice_placed_strength(const struct thrum_practice *practice);

/** The same for sender number 0 to n_more; the ones above are those of sender 0. -1 and THRUM_FLOOR_DBFS for no sender. */
int thrum_practice_driven_by(const struct thrum_practice *practice, int sender);
double thrum_practice_strength_of(const struct thrum_practice *practice, int sender, int wire);
double thrum_practice_placed_strength_of(const struct thrum_practice *practice, int sender);

/** One stretch of the walk that goes over all wires in order, each touched once, lifted between. */
struct thrum_practice_stop {
    int wire; /**< Index, or THRUM_PROBE_IN_AIR. */
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
