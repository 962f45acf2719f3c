/** @file lock.h
 *  Cadence lock: where in its pattern the sender is, how far its tone and clock have moved, and how much of the
 *  sound near its tones keys with it.
 *
 *  The measure is the energy that beeps of free phase and amplitude explain, sum |sum z|^2 / n over the beeps,
 *  over the noise: the non-coherent (square law) statistic. Pure; no allocation after creation.
 */
#ifndef THRUM_LOCK_H
#define THRUM_LOCK_H

#include <stddef.h>

#include "signal/beeps.h"
#include "signal/cplx.h"
#include "thrum/status.h"
#include "thrum/voice.h"

/** Most beeps looked at in one stretch. */
#define THRUM_LOCK_BEEPS 512
/** Beeps are taken as coherent up to this length, seconds. */
#define THRUM_LOCK_COHERENT_S 1.0

/** Where the sender is found. */
struct thrum_lock_state {
    struct thrum_timing timing; /**< start_s is meant at the middle of the stretch. */
    double offset_hz;           /**< First tone's distance from the voice's, at the stretch's middle. */
    double tone_offset_hz[THRUM_VOICE_TONES]; /**< Each tone's. */
    double slope_hz_per_s;                    /**< First tone's drift; the others move in proportion. */
};

/** What keys with the sender. */
struct thrum_lock_energy {
    double explained; /**< Sum over beeps of |sum z|^2 / n / noise: about `beeps` when there is only noise. */
    int beeps;
    double on;    /**< Baseband samples in beeps. */
    double power; /**< Mean power of a beep less its noise, |z|^2 units. */
};

struct thrum_lock;

/** @param[in] step_hz  Rate of the sound that will be used, of all tones alike. */
enum thrum_status thrum_lock_create(const struct thrum_voice *voice, double step_hz, size_t count_max,
                                    struct thrum_lock **lock);
void thrum_lock_destroy(struct thrum_lock *lock);

/** The voice's step times may be changed between uses, and where its tones are; numbers may not. */
void thrum_lock_set_voice(struct thrum_lock *lock, const struct thrum_voice *voice);

/**
 * Use this sound from now on.
 * @param[in] z      Per tone, shape [n_tones][count]; kept, not copied.
 * @param[in] noise  Per tone: variance of z by noise, > 0. Shape [n_tones].
 * @param[in] dof    Independent complex values of all tones that the noise was measured from.
 */
void thrum_lock_use(struct thrum_lock *lock, const struct cplx *const *z, size_t first, size_t count,
                    const double *noise, double dof);

/**
 * Look everywhere: all phases of the cadence, offsets up to reach_hz. The best is left in state.
 *
 * The noise given to thrum_lock_use() must be that of everything, as if no tone were there.
 * @return ln of the mean likelihood ratio of a keyed tone against noise alone, over all phases and offsets with their
 *         prior weights: each beep's energy e, exponential under noise, enters as exp(e / 2) / 2. Its mean over noise
 *         alone is 1.
 */
double thrum_lock_search(struct thrum_lock *lock, double reach_hz, struct thrum_lock_state *state);

/** Climb to the nearest best: offsets, drift, phase, clock, beep length, each with its prior. */
void thrum_lock_refine(struct thrum_lock *lock, struct thrum_lock_state *state);

/** Measure at a state. */
struct thrum_lock_energy thrum_lock_measure(struct thrum_lock *lock, const struct thrum_lock_state *state);

/**
 * The pauses of each tone, less what the filter smears over their edges, in parts no longer than longest_s.
 * @param[out] gaps  Shape [max]. @return how many, at most max.
 */
int thrum_lock_gaps(struct thrum_lock *lock, const struct thrum_lock_state *state, double longest_s,
                    struct thrum_beep *gaps, int max);

/** The same in the pauses of each tone: what is there that does not key. */
struct thrum_lock_energy thrum_lock_measure_gaps(struct thrum_lock *lock,
                                                 const struct thrum_lock_state *state);

/** The timing with start_s meant at the stretch's first sample, 0 to one cycle. */
struct thrum_timing thrum_lock_timing(const struct thrum_lock *lock, const struct thrum_lock_state *state);

/** lg of the weight that the offset deserves beforehand: most senders are where they were learned. */
double thrum_lock_prior(double offset_hz);

#endif
