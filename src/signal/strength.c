#include "signal/strength.h"

#include <math.h>

#include "thrum/units.h"

#define HEARD_LG        (-3.0) /* lg of the false-alarm rate asked for; docs/measuring.md says what comes of it */
#define HEARD_EVIDENCE  4.2    /* what noise alone reaches once in 1000 touches; by simulation */
#define KEYS_LIKE_IT    (-3.0) /* ln odds against a tone that sounds in the pauses too */
#define WHOLE           (-8.0) /* ln odds against a tone that sounds in part of a beep, or of a pause */
#define NO_NOISE        6.0    /* ln odds against noise of each window's own size, of six beeps */
#define NO_BURSTS       2.5    /* ln odds against sounds that come when they like, of six beeps */
#define MOST_RIVAL      0.5    /* energy beside the tone over its own */
#define EVIDENCE_DECADE 2.4    /* less of it: ten times as often */

/* lg of the chance that noise alone looks like this; see docs/measuring.md for how the two numbers were found. */
static double score_of(const struct thrum_touchfit_result *fit)
{
    return fmin(HEARD_LG - (fit->evidence - HEARD_EVIDENCE) / EVIDENCE_DECADE, 0.0);
}

/* Wobble seen within the touch: what the beeps scatter beyond their noise, as variance of their mean power. */
static double wobble_variance(const struct thrum_touchfit_result *fit)
{
    int n = fit->n_beeps;
    double mean = fit->power, scatter = 0.0, noise = 0.0, lagged = 0.0, before = 0.0;
    if (n < 4)
        return 0.0;
    for (int i = 0; i < n; i++) {
        double e = fit->beep_power[i] - mean, v = fit->beep_variance[i];
        scatter += e * e;
        noise += 2.0 * fmax(mean, 0.0) * v + v * v;
        if (i > 0)
            lagged += e * before;
        before = e;
    }
    scatter /= n - 1;
    noise /= n;
    if (scatter < noise * (1.0 + 2.5 * sqrt(2.0 / (n - 1))))
        return 0.0;
    double rho = fmin(fmax(lagged / (n - 1) / scatter, 0.0), 0.8);
    return (scatter - noise) / n * (1.0 + rho) / (1.0 - rho);
}

static void fill_level(const struct thrum_touchfit_result *fit, double variance,
                       struct thrum_strength *strength)
{
    double relative = variance / (fit->power * fit->power);
    strength->dbfs =
        thrum_db_from_power(fit->power) + 2.1715 * relative; /* E lg of a noisy power is low by that */
    strength->sd_db = 4.3429 * sqrt(relative);
    strength->low_db = strength->dbfs - 1.96 * strength->sd_db;
    strength->high_db = strength->dbfs + 1.96 * strength->sd_db;
    strength->tone_hz = fit->voice.tones_hz[0] + fit->state.tone_offset_hz[0];
}

/*
 * Power of the strongest tone that would be measured this low once in 40 times. The root of what M beeps hold, tone and noise,
 * is about normal with a variance of v / 2M, v being the noise in a beep. What was measured below zero says no more than zero.
 * A steady tone near a harmonic may be as strong as what was taken for the harmonic.
 */
static double upper_power(const struct thrum_touchfit_result *fit)
{
    double on = 0.0, noise = 0.0, squares = 0.0, least = fmax(fit->power, fit->hum_power);
    for (int i = 0; i < fit->n_beeps; i++) {
        double s = fit->beep[i].to_s - fit->beep[i].from_s, v = s * fit->beep_variance[i];
        noise += v;
        squares += v * v;
        on += s;
    }
    if (!(on > 0.0 && noise > 0.0))
        return least;
    double v = noise / on, beeps = noise * noise / squares;
    double root = sqrt(least + v) + 1.96 * sqrt(0.5 * v / beeps);
    return root * root - v;
}

void thrum_strength_judge(const struct thrum_touchfit_result *fit, struct thrum_strength *strength,
                          struct thrum_strength_notes *notes)
{
    *strength = (struct thrum_strength){.dbfs = THRUM_FLOOR_DBFS,
                                        .low_db = THRUM_FLOOR_DBFS,
                                        .high_db = THRUM_FLOOR_DBFS,
                                        .tone_hz = fit->voice.tones_hz[0]};
    struct thrum_strength_notes noted = {.hum_on_tone = fit->hum_on_tone};
    if (fit->n_beeps > 0) {
        double variance = fit->variance + wobble_variance(fit);
        for (int i = 0; i < fit->n_beeps; i++)
            strength->beeps_heard += fit->beep_power[i] + fit->beep_variance[i] > 0.25 * fit->power;
        strength->beeps = fit->n_beeps;
        strength->score = score_of(fit);
        strength->phase_s = fit->timing.start_s;
        bool there = strength->score < HEARD_LG && fit->power > 0.0;
        struct thrum_keying_odds odds = thrum_keying_weigh(fit->window, there ? fit->n_windows : 0);
        bool keyed =
            fit->voice.steady || (odds.pauses > KEYS_LIKE_IT && fit->whole > WHOLE && !fit->upside_down &&
                                  fit->contrast + 3.0 * fit->contrast_sd > 0.5 * fit->power);
        double several = fmin((fit->n_beeps - 1) / 5.0, 1.0);
        strength->heard = there && keyed && odds.bursts > NO_BURSTS * several &&
                          odds.noise > NO_NOISE * several && fit->rival < MOST_RIVAL &&
                          fit->crowd < THRUM_CROWD && strength->beeps_heard * 2 > strength->beeps;
        bool on_tone = fabs(fit->state.offset_hz) < THRUM_TOUCHFIT_REACH_HZ;
        noted.other_cadence = (there && !keyed && on_tone) || (!strength->heard && fit->steady_on_tone);
        if (strength->heard)
            fill_level(fit, variance, strength);
        else
            strength->high_db = thrum_db_from_power(upper_power(fit));
        noted.drift = strength->heard && (fabs(fit->state.offset_hz) > 0.01 * fit->voice.tones_hz[0] ||
                                          fabs(fit->state.slope_hz_per_s) > 1.0);
    }
    if (notes)
        *notes = noted;
}
