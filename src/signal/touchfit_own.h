/** @file touchfit_own.h
 *  What the parts of touchfit share; nobody else includes it. touchfit.c prepares, looks and judges,
 *  touchfit_parts.c runs the fits of all tones and parts at one state, touchfit_climb.c moves the state uphill,
 *  touchfit_windows.c looks at the sound beep by beep and pause by pause, touchfit_steady.c for steady sounds,
 *  touchfit_crowd.c at places farther off, touchfit_sharpen.c fits more widely what was found, touchfit_out.c makes the
 *  sender's sound again to take it out.
 */
#ifndef THRUM_TOUCHFIT_OWN_H
#define THRUM_TOUCHFIT_OWN_H

#include <stdbool.h>

#include "signal/tonefit.h"
#include "signal/touchfit.h"

/* Priors of the numbers that are climbed: standard deviations about the voice as learned. */
#define THRUM_SLOPE_SD        0.2 /* Hz/s */
#define THRUM_SCALE_SD        1e-3
#define THRUM_EDGE_SD_S       2e-3
#define THRUM_LONGEST_S       0.6  /* longer tones are measured in parts */
#define THRUM_TOUCHFIT_PLACES 5    /* looked at where a line hides the tone */
#define THRUM_LEAK_MARGIN     10.0 /* presence asks for so much more than what usually leaks from hum */

/** Most beeps of all tones that the filter hears in one part; of one tone THRUM_TONEFIT_BEEPS. */
#define THRUM_TOUCHFIT_LISTED (2 * THRUM_TONEFIT_BEEPS)

/* Numbers that are climbed: drift, each tone's offset, then the timings; as many as there are, one after another. */
enum {
    THRUM_NUMBER_SLOPE,
    THRUM_NUMBER_OFFSETS,
    THRUM_NUMBERS = THRUM_NUMBER_OFFSETS + THRUM_VOICE_TONES + THRUM_TONEFIT_TIMINGS
};

/* One tone of the voice in the stretch. */
struct thrum_touchfit_tone {
    struct thrum_baseband *baseband;
    struct thrum_tonefit *fit;
    struct cplx *raw;   /* [count_max] as received */
    struct cplx *z;     /* [count_max] far hum lines taken out */
    struct cplx *clean; /* [count_max] all hum taken out */
    struct cplx *rest;  /* [count_max] hum and beeps taken out */
    int n_near, n_far;
    int n_mains; /* the first of the near lines are mains, the rest other steady sounds */
    struct thrum_hum_line near[THRUM_TONEFIT_LINES], far[THRUM_HUMLINES_MAX];
    double taken_far, taken_near; /* independent values of z that far lines took, and near ones of clean */
    double noise;                 /* variance of z by noise */
};

/* Sums over all tones and parts at one state. */
struct thrum_touchfit_sums {
    double cost; /* residual over noise, and the priors' share: what the climb makes small */
    double left[THRUM_VOICE_TONES], dof[THRUM_VOICE_TONES];
    double taken[THRUM_VOICE_TONES]; /* independent values of z that near lines took */
    double power, on, variance;
    double curvature[THRUM_NUMBERS][THRUM_NUMBERS], uphill[THRUM_NUMBERS], power_moves[THRUM_NUMBERS];
};

struct thrum_touchfit {
    struct thrum_voice voice;
    double rate_hz;
    size_t count_max, first, count;
    bool free_steps;
    int n_timings;
    struct thrum_touchfit_tone tone[THRUM_VOICE_TONES];
    struct thrum_touchfit_tone
        other[THRUM_VOICE_TONES]; /* room to look elsewhere; fit and baseband are those of tone */
    struct thrum_baseband *basebands[THRUM_VOICE_TONES];
    struct thrum_lock *lock;
    struct cplx *turned; /* [count_max] room for a turning */
    struct thrum_touchfit_sums sums;
    struct thrum_touchfit_result result;
    struct thrum_lock_state place[THRUM_TOUCHFIT_PLACES]; /* where untangling ended, the best first */
    int n_places;
    double places_noise; /* ...and the noise it left */
    int n_gaps;          /* listed with the windows */
    struct thrum_beep gap[THRUM_TOUCHFIT_BEEPS];
    int n_pieces; /* of beeps and pauses */
    struct thrum_keying_piece piece[THRUM_KEYING_PIECES];
    int n_changes; /* noise as neighbouring pieces show it */
    double change[THRUM_KEYING_PIECES];
};

/** Middle of the stretch, seconds from its first sample: where offsets and phases are meant. */
double thrum_touchfit_middle_s(const struct thrum_touchfit *fit);

/** Where the timings begin among the numbers that are climbed. */
int thrum_touchfit_timings_at(const struct thrum_touchfit *fit);

/** Independent complex values of one tone that the hum lines left. */
double thrum_touchfit_dof(const struct thrum_touchfit *fit, const struct thrum_touchfit_tone *tone);

/** Hear one tone where its baseband is: raw, z, clean, lines, noise. */
void thrum_touchfit_prepare_tone(struct thrum_touchfit *fit, struct thrum_touchfit_tone *tone,
                                 const struct thrum_touchfit_job *job);

/** Fit all tones and parts at one state; fills sums, the beeps of the result, clean and rest of every tone. */
void thrum_touchfit_fit_all(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** The same for its cost alone: of the sums only cost, left and dof, no beeps. */
void thrum_touchfit_fit_cost(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** One part of one tone as the fit wants it. @param[out] beeps, fit shape [THRUM_TONEFIT_BEEPS]. */
struct thrum_fit_input thrum_touchfit_part_input(struct thrum_touchfit *fit,
                                                 const struct thrum_lock_state *state, int tone, size_t part,
                                                 struct thrum_beep *beeps, struct thrum_fit_beep *fit_beeps);

/**
 * Beeps near a hum line hold energy that the line could have explained as well. So much noise added to that of everything, the
 * beeps being part of it, makes the lock count only what is their own; after a fit at this state.
 */
double thrum_touchfit_disputed(struct thrum_touchfit *fit, const struct thrum_lock_state *state, int tone);

/** Noise of every tone from what the last fit left over. */
void thrum_touchfit_set_noise(struct thrum_touchfit *fit);

/** The lock hears what the lines left, with the noise of every tone. */
void thrum_touchfit_use_clean(struct thrum_touchfit *fit);

/** Noise from what the beeps leave over, all tones together. */
void thrum_touchfit_noise_beside_beeps(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** Does a hum line lie so near to a tone that it is fitted together with it? */
bool thrum_touchfit_has_near_lines(const struct thrum_touchfit *fit);

/** Far hum lines were taken out with the tone's side bands in them. Now that the tone is known, measure them again
 *  without it, and begin anew from what came in. */
void thrum_touchfit_renew_far_lines(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** Gauss-Newton from state to the nearest best; sums and beeps are left there. */
void thrum_touchfit_climb(struct thrum_touchfit *fit, struct thrum_lock_state *state);

/** Where a hum line hides the tone: the best of several places to climb from. */
void thrum_touchfit_untangle(struct thrum_touchfit *fit, struct thrum_lock_state *state);

/** The same places once more, where less noise is left than they were compared with: it tells them apart better.
 *  false: nothing was done. To be climbed from afterwards. */
bool thrum_touchfit_untangle_again(struct thrum_touchfit *fit, struct thrum_lock_state *state);

/**
 * Take the strongest steady sound near the tone out of `clean` and list it with the near lines, if it explains more than
 * the beeps do. @param[in] keyed  Energy that the beeps explain, over the noise, less that of noise.
 */
bool thrum_touchfit_add_steady(struct thrum_touchfit *fit, int tone, double about_hz, double keyed);

/** Is one of the steady sounds that were taken out at the tone as found? */
bool thrum_touchfit_upside_down(const struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** Power of beeps that the near hum lines alone show where the tone was found. */
double thrum_touchfit_hum_leak(const struct thrum_touchfit *fit, const struct thrum_lock_state *state,
                               int tone);

/** Fills beep_beside of the result: mean energy of the hum-free sound beside the tone in each beep, over the noise. */
void thrum_touchfit_measure_beside(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** The samples that the job gives from now on. false: too few to look at. */
bool thrum_touchfit_take_stretch(struct thrum_touchfit *fit, const struct thrum_touchfit_job *job);

/**
 * How many places farther off keep the cadence with half of this tone's evidence or more; one as far from a harmonic of
 * the mains, on either side of it, as the tone is from its own counts THRUM_CROWD. 0 where the evidence is too little to matter or so much that only
 * a sender brings it about. @param[in] offset_hz  Where the tone was found.
 */
int thrum_touchfit_crowd(struct thrum_touchfit *fit, const struct thrum_touchfit_job *job, double offset_hz);

/** Beeps and pauses as they are weighed: sound beside the tone at the same time counts as noise. */
void thrum_touchfit_list_windows(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** Samples [first, end) of the baseband in which a beep or a pause sounds. */
struct thrum_touchfit_window {
    size_t first, end;
};
struct thrum_touchfit_window thrum_touchfit_window_of(const struct thrum_touchfit *fit,
                                                      const struct thrum_beep *beep);

/** Sum of z over a window, turned by a frequency; the first sample of the window is not turned. */
struct cplx thrum_touchfit_sum_in(const struct thrum_touchfit *fit, int tone, const struct cplx *z,
                                  struct thrum_touchfit_window window, double hz);

/** The tone's frequency in the middle of a beep or a pause, from the centre of its band. */
double thrum_touchfit_tone_hz_in(const struct thrum_touchfit *fit, const struct thrum_lock_state *state,
                                 const struct thrum_beep *beep);

/** thrum_keying_whole() of what was found; after the power, the beeps and the windows. 0 for a steady voice. */
double thrum_touchfit_whole(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/**
 * Noise at the tone over the noise of the whole band, at most 1: what hum lines leave over lies where they are, and the
 * beeps hear of it only what lies within their own bandwidth. 1 where that cannot be told.
 */
double thrum_touchfit_noise_at_tone(struct thrum_touchfit *fit, const struct thrum_lock_state *state);

/** What the fitted numbers do to the mean power: noise they bring in, noise they take up, error of the timing. */
struct thrum_touchfit_toll {
    double extra;     /**< Variance of sums.power. */
    double effective; /**< Numbers really fitted, those held by their priors not counted. */
    double step_sd_s; /**< Of the first step when steps are free, else of the phase. */
};
struct thrum_touchfit_toll thrum_touchfit_toll(const struct thrum_touchfit *fit,
                                               const struct thrum_lock_state *state);

/** Does any other tone of the voice sound within the filter of this one? */
bool thrum_touchfit_has_close_tone(const struct thrum_touchfit *fit, int tone);

/**
 * The loudest of what sounds beside the tones in the beeps or in the pauses, each place for itself: its mean energy over that of the
 * tones in the beeps. 0 where no place is louder than noise is, and where the voice's own tones are neighbours.
 */
double thrum_touchfit_rival(const struct thrum_touchfit *fit, const struct thrum_lock_state *state);

#endif
