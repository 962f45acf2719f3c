/** @file reading.h
 *  What one touch measured.
 */
#ifndef THRUM_READING_H
#define THRUM_READING_H

#include "thrum/units.h"
#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/** What can be wrong with an input. A reading holds any number of them, OR-ed. */
enum thrum_fault {
    THRUM_FAULT_SILENT = 1 << 0,       /**< Digital silence: every sample exactly the same. */
    THRUM_FAULT_CLIPPED = 1 << 1,      /**< Runs of equal extreme samples. */
    THRUM_FAULT_DC = 1 << 2,           /**< A constant above 1 % of full scale. */
    THRUM_FAULT_GAIN_RIDING = 1 << 3,  /**< A level control moves: strengths cannot be compared. */
    THRUM_FAULT_GATED = 1 << 4,        /**< The floor vanishes between sounds: a noise gate is on. */
    THRUM_FAULT_SUPPRESSED = 1 << 5,   /**< Beeps fade after their onset: noise suppression is on. */
    THRUM_FAULT_LOST = 1 << 6,         /**< Samples were lost or repeated on the way in. */
    THRUM_FAULT_NOT_FINITE = 1 << 7,   /**< NaN or infinity in the samples; measured as 0. */
    THRUM_FAULT_ONE_SIDED = 1 << 8,    /**< The sound is on one channel only; that one was used. */
    THRUM_FAULT_CANCELLING = 1 << 9,   /**< The two channels are opposite; one was used. */
    THRUM_FAULT_TOO_SHORT = 1 << 10,   /**< Too short to judge: less than one beep. */
    THRUM_FAULT_HUM_ON_TONE = 1 << 11, /**< A mains harmonic within 3 Hz of the tone. */
    THRUM_FAULT_DRIFT = 1 << 12, /**< The tone is more than 1 % off the voice, or sags: sender battery? */
    THRUM_FAULT_OTHER_CADENCE = 1 << 13, /**< The tone is there, with another cadence. */
    THRUM_FAULT_LOW = 1 << 14,           /**< Very low level: raise the capture gain. */
    THRUM_FAULT_COUNT =
        1 << 15, /**< Of a touch found by itself: how many were before it is in doubt, and so is its tag. */
    THRUM_FAULT_RATE =
        1
        << 16, /**< Made at another sample rate than claimed: by the clock, or its hum lies where no mains is. */
    THRUM_FAULT_NOT_COMPARED =
        1 << 17 /**< Made with another input than the touches since, or where the sender
                                              was not: not compared with them. */
};
#define THRUM_FAULTS 18
/** Faults that change strengths by themselves: no pick can be trusted. */
#define THRUM_FAULTS_UNTRUSTED (THRUM_FAULT_GAIN_RIDING | THRUM_FAULT_GATED | THRUM_FAULT_SUPPRESSED)

/** Name of one fault as used in JSON ("clipped", "gain-riding"), and what to do about it as one sentence.
 *  NULL for a number that is not one fault. Static storage. */
const char *thrum_fault_name(enum thrum_fault fault);
const char *thrum_fault_advice(enum thrum_fault fault);

/** Strength of one sender in one touch. dBFS, full-scale sine = 0 (AES17). */
struct thrum_strength {
    bool heard;      /**< The presence test was passed (false alarms at most 1 in 1000 touches). */
    double dbfs;     /**< RMS of the tone while it is on; THRUM_FLOOR_DBFS when not heard. */
    double low_db;   /**< Lower end of the 95 % interval; THRUM_FLOOR_DBFS when not heard. */
    double high_db;  /**< Upper end of the 95 % interval; the upper limit when not heard. */
    double sd_db;    /**< Standard error of dbfs within this touch; 0 when not heard. */
    double tone_hz;  /**< First tone as found in this touch; the voice's when not heard. */
    double phase_s;  /**< Time into the pattern at the touch's first frame, 0 to one cycle. */
    double score;    /**< lg of the chance that noise alone looks like this; about -3 is the threshold. */
    int beeps;       /**< Beeps the cadence puts in the touch. */
    int beeps_heard; /**< Of those, how many were there. */
};

/** What one touch measured: a value, copy it freely. */
struct thrum_reading {
    char wire[THRUM_WIRE_TAG_SIZE]; /**< Tag, UTF-8; "" until it is known. */
    int touch;                      /**< 1 for the wire's first touch. */
    uint64_t first_frame;           /**< Input frame at which the touch begins. */
    uint64_t frames;                /**< Its length in input frames. */
    double rate_hz;                 /**< Frames per second. */
    int channel;                    /**< The channel measured, from 0. */
    double hum_dbfs;                /**< RMS of mains fundamental and harmonics; THRUM_FLOOR_DBFS if none. */
    double mains_hz;                /**< 0 if no mains was found. */
    double noise_dbfs;              /**< RMS of what is neither tone nor hum, 300 to 3400 Hz. */
    /** Hum and noise in the sender's pauses over those in its beeps: about 0, more where a level control
     *  rides the gain. */
    double breath_db;
    double breath_sd_db; /**< Standard error of that; 0 when it could not be told. */
    uint32_t faults;     /**< OR of enum thrum_fault. */
    int n_senders;       /**< Voices listened for. */
    struct thrum_strength strength[THRUM_MAX_SENDERS]; /**< [n_senders] */
};

#ifdef __cplusplus
}
#endif
#endif
