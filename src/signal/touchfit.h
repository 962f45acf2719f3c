/** @file touchfit.h
 *  Everything about one sender in one stretch of sound, fitted together: each tone's frequency and drift, the
 *  cadence's phase, clock and beep length (or every step of its pattern), each beep's amplitude, the hum lines.
 *
 *  First a search over all phases and offsets (lock.h), then Gauss-Newton steps on the exact model (tonefit.h).
 *  Pure; no allocation after creation; one fit belongs to one thread.
 */
#ifndef THRUM_TOUCHFIT_H
#define THRUM_TOUCHFIT_H

#include <stddef.h>

#include "signal/beeps.h"
#include "signal/cplx.h"
#include "signal/humlines.h"
#include "signal/keying.h"
#include "signal/lock.h"
#include "thrum/status.h"
#include "thrum/voice.h"

/** Longest stretch fitted at once, seconds, and most beeps told about one by one. */
#define THRUM_TOUCHFIT_MAX_S 60.0
#define THRUM_TOUCHFIT_BEEPS 1024
/** The tone is looked for this far from where it was learned. */
#define THRUM_TOUCHFIT_REACH_HZ 12.0
/** A tone is one of many where so many places beside it look like it. */
#define THRUM_CROWD 2

/** The result. Powers are |amplitude|^2: a full-scale sine has 1. */
struct thrum_touchfit_result {
    struct thrum_voice voice; /**< As given; its step times refined when steps were free. */
    struct thrum_lock_state state;
    struct thrum_timing timing; /**< As in state, but meant at the stretch's first sample. */
    double power;               /**< Mean over the on-time, noise and overfit taken off; may be negative. */
    double variance;            /**< Of that mean, by noise. */
    double noise;               /**< Variance of the baseband by noise, first tone. */
    double noise_density;       /**< Variance per hertz of the input at the first tone. */
    double dof;                 /**< Independent complex values that the noise was measured from. */
    double evidence;            /**< ln of the mean likelihood ratio of a keyed tone, thrum_lock_search(). */
    double gap_power;           /**< Steady sound at the tones in the pauses. */
    double contrast;    /**< Power of all sound near the tones in the beeps over that in the pauses. */
    double contrast_sd; /**< Of contrast, by noise; infinite where it does not tell. */
    /** Energy of the loudest sound beside the tones over theirs; 0 where there is only noise. */
    double rival;
    int crowd;     /**< Places farther off that keep the cadence half as surely; THRUM_CROWD are too many. */
    double gap_sd; /**< Of gap_power, by noise. */
    double gap_lg; /**< lg of the chance that noise alone is as loud in the pauses. */
    double step_sd_s; /**< Standard error of the step times when steps were free, else of the phase. */
    bool hum_on_tone; /**< A harmonic within 3 Hz of a tone. */
    /** Of the loudest within 1.6 Hz where the voice is steady: its tone may have gone with it. */
    double hum_power;
    /** A loud steady sound that is no mains, within 3 Hz of a tone; it has been taken out. */
    bool steady_on_tone;
    /** A steady sound was taken out at the very tone: of a tone with short pauses those are left. */
    bool upside_down;
    double whole; /**< ln odds against a tone in part of a beep or of a pause: thrum_keying_whole(). */
    int n_beeps;  /**< 0 when the stretch is too short. */
    struct thrum_beep beep[THRUM_TOUCHFIT_BEEPS]; /**< Parts of long beeps count one by one. [n_beeps] */
    double beep_power[THRUM_TOUCHFIT_BEEPS];      /**< |amplitude|^2 less its noise. [n_beeps] */
    double beep_beside
        [THRUM_TOUCHFIT_BEEPS]; /**< Sound beside the tone during the beep, over the noise; about 1. */
    double beep_variance[THRUM_TOUCHFIT_BEEPS]; /**< E |error of amplitude|^2. [n_beeps] */
    int n_windows;                              /**< Beeps and pauses, for thrum_keying_weigh(). */
    struct thrum_keying_window window[2 * THRUM_TOUCHFIT_BEEPS];
};

struct thrum_touchfit;

/** @retval THRUM_OK, THRUM_ERR_ARG (rate outside [8000, 16000), voice not valid), THRUM_ERR_MEM. */
enum thrum_status thrum_touchfit_create(double rate_hz, const struct thrum_voice *voice,
                                        struct thrum_touchfit **fit);

/** One that hears 187 Hz to either side of its tones, whatever the voice, and so knows better when they begin and end; for
 *  thrum_touchfit_sharpen(). Arguments and answers as above. */
enum thrum_status thrum_touchfit_create_wide(double rate_hz, const struct thrum_voice *voice,
                                             struct thrum_touchfit **fit);
void thrum_touchfit_destroy(struct thrum_touchfit *fit);

/** From the next run on, look for the sender around this first tone; its other tones move by the same factor.
 *  @param[in] first_tone_hz  Such that all tones stay within THRUM_TONE_MIN_HZ to THRUM_TONE_MAX_HZ, else nothing moves. */
void thrum_touchfit_move(struct thrum_touchfit *fit, double first_tone_hz);

/** What the last run heard near one tone, hum taken out: the tone turned down to its offset (state.tone_offset_hz). */
struct thrum_touchfit_near {
    const struct cplx *z; /**< Shape [count]; z[0] belongs to time first / step_hz. Belongs to the fit. */
    size_t first, count;
    double step_hz;
};

/** How a stretch is looked at. */
struct thrum_touchfit_job {
    const float
        *x; /**< Analysis samples, finite. Shape [n]; what is beyond THRUM_TOUCHFIT_MAX_S is left out. */
    size_t n;
    const struct thrum_hum_source *hum;  /**< Shape [n_hum]. */
    int n_hum;                           /**< At most THRUM_HUM_SOURCES. */
    const struct thrum_lock_state *from; /**< Begin here instead of searching; NULL: search. */
    bool free_steps; /**< Fit every step of the pattern instead of clock and beep length. */
};

/** The result belongs to the fit and holds until its next run. */
const struct thrum_touchfit_result *thrum_touchfit_run(struct thrum_touchfit *fit,
                                                       const struct thrum_touchfit_job *job);

/**
 * The most evidence (natural logarithm of the mean likelihood ratio) that the cadence is kept by tones moved by up to `share` of
 * themselves, but not where a run looks for them. Costs a few looks: much less than a run at each place. The result of the last run is lost.
 * -infinity for a steady voice and for next to no sound; below 0 in nearly all noise and silence.
 */
double thrum_touchfit_elsewhere(struct thrum_touchfit *fit, const struct thrum_touchfit_job *job,
                                double share);

/** The result of the last run once more. */
const struct thrum_touchfit_result *thrum_touchfit_last(const struct thrum_touchfit *fit);

/**
 * Fit once more what another fit of the same voice found in its last run, which is left as it is: for thrum_touchfit_add().
 *
 * @param[in] fit    From thrum_touchfit_create_wide(); of its result only state and power mean anything.
 * @param[in] found  After a run on this job. Where it had nothing to fit, nothing is fitted.
 * @param[in] job    Its from and free_steps are not looked at.
 */
void thrum_touchfit_sharpen(struct thrum_touchfit *fit, const struct thrum_touchfit *found,
                            const struct thrum_touchfit_job *job);

/**
 * Take out of a sound what the last run found of the sender, beep by beep, or put it back.
 *
 * @param[in,out] x     The same stretch, with or without other senders. Shape [n].
 * @param[in]     sign  -1 takes out, +1 puts back.
 */
void thrum_touchfit_add(struct thrum_touchfit *fit, double sign, float *x, size_t n);

/** Empty when there was nothing to fit. @param[in] tone  Of the voice. */
struct thrum_touchfit_near thrum_touchfit_near(const struct thrum_touchfit *fit, int tone);

#endif
