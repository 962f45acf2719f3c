/* Is the tone one of many? Sound that comes and goes keeps time with a cadence at one place or another. */
#include <math.h>

#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define STEP       1.25 /* between places, beep bandwidths... */
#define STEP_LEAST 5.0  /* ...and hertz */
#define NEAREST    4.0  /* beep bandwidths from any tone: nearer places may hear it... */
#define NEAREST_HZ 17.0 /* ...and hertz */
#define FAR_STEPS  26
#define FAR_HZ     400.0
#define HARMONICS  8 /* of the mains, on either side */
#define LOWEST_HZ  150.0
#define HIGHEST_HZ 3800.0
#define REACH      0.3   /* each place is looked at within so many beep bandwidths */
#define LEAST      3.0   /* evidence that is worth the look... */
#define MOST       150.0 /* ...and that no sound without a sender has brought about yet */
#define LIKE_IT    0.5   /* of the tone's own evidence */

/* Beep bandwidth, hertz. */
static double bandwidth_hz(const struct thrum_touchfit *f)
{
    return 1.0 / fmin(fmax(thrum_beeps_longest_tone_s(&f->voice), 0.04), THRUM_LOCK_COHERENT_S);
}

/* May all tones be looked for so far away without hearing one another? */
static bool is_room(const struct thrum_touchfit *f, double away_hz)
{
    double nearest = fmax(NEAREST * bandwidth_hz(f), NEAREST_HZ);
    for (int k = 0; k < f->voice.n_tones; k++) {
        double hz = f->voice.tones_hz[k] + away_hz;
        if (hz < LOWEST_HZ || hz > HIGHEST_HZ)
            return false;
        for (int i = 0; i < f->voice.n_tones; i++)
            if (fabs(hz - f->voice.tones_hz[i]) < nearest)
                return false;
    }
    return true;
}

/* Each tone's sound changes places with the spare room, so that another place can be looked at and the fit be left as it is. */
static void swap_rooms(struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++) {
        struct thrum_touchfit_tone here = f->tone[k];
        f->tone[k] = f->other[k];
        f->other[k] = here;
    }
}

/* Evidence of the same cadence with all tones moved by a factor and then by away_hz; rooms are swapped. */
static double evidence_at(struct thrum_touchfit *f, const struct thrum_touchfit_job *job, double factor,
                          double away_hz, double reach_hz)
{
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES], dof = 0.0;
    struct thrum_lock_state ignored, at = {.timing = {0.0, 1.0, 0.0}};
    double beep =
        fmin(thrum_beeps_longest_tone_s(&f->voice), THRUM_LOCK_COHERENT_S) * f->basebands[0]->step_hz;
    for (int k = 0; k < f->voice.n_tones; k++) {
        struct thrum_touchfit_tone *tone = &f->tone[k];
        thrum_baseband_move(f->basebands[k], factor * f->voice.tones_hz[k] + away_hz);
        thrum_touchfit_prepare_tone(f, tone, job);
        z[k] = tone->clean;
        dof += thrum_touchfit_dof(f, tone);
        noise[k] = tone->noise + THRUM_LEAK_MARGIN * thrum_touchfit_hum_leak(f, &at, k) * beep;
    }
    thrum_lock_use(f->lock, z, f->first, f->count, noise, dof);
    return thrum_lock_search(f->lock, reach_hz, &ignored);
}

/* Does a place so far from where the tone was found keep the cadence half as surely? */
static int is_like_it(struct thrum_touchfit *f, const struct thrum_touchfit_job *job, double offset_hz,
                      double away_hz)
{
    if (!is_room(f, away_hz))
        return 0;
    return evidence_at(f, job, 1.0, offset_hz + away_hz, REACH * bandwidth_hz(f)) >
           LIKE_IT * f->result.evidence;
}

/* From where the tone was found to its mirror image in the nearest harmonic: hum that wobbles sounds on both sides of its lines. */
static double to_mirror_hz(const struct thrum_touchfit *f, double offset_hz, double mains_hz)
{
    double tone_hz = f->voice.tones_hz[0] + offset_hz;
    return 2.0 * (mains_hz * round(tone_hz / mains_hz) - tone_hz);
}

static void back_home(struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        thrum_baseband_move(f->basebands[k], f->voice.tones_hz[k]);
    swap_rooms(f);
}

int thrum_touchfit_crowd(struct thrum_touchfit *f, const struct thrum_touchfit_job *job, double offset_hz)
{
    double step = fmax(STEP * bandwidth_hz(f), STEP_LEAST);
    int crowd = 0, far = (int)fmin(FAR_STEPS, FAR_HZ / step);
    bool hum_on_tone = f->result.hum_on_tone;
    if (f->voice.steady || f->result.evidence < LEAST || f->result.evidence > MOST)
        return 0;
    double mirror_hz = job->n_hum > 0 ? to_mirror_hz(f, offset_hz, job->hum[0].hz) : 0.0;
    swap_rooms(f);
    for (int i = -far; i <= far && crowd < THRUM_CROWD; i++)
        crowd += is_like_it(f, job, offset_hz, i * step);
    for (int i = -HARMONICS; i <= HARMONICS && job->n_hum > 0 && crowd < THRUM_CROWD; i++) {
        crowd += THRUM_CROWD * is_like_it(f, job, offset_hz, i * job->hum[0].hz);
        if (crowd < THRUM_CROWD)
            crowd += THRUM_CROWD * is_like_it(f, job, offset_hz, i * job->hum[0].hz + mirror_hz);
    }
    back_home(f);
    f->result.hum_on_tone = hum_on_tone;
    return crowd;
}

double thrum_touchfit_elsewhere(struct thrum_touchfit *f, const struct thrum_touchfit_job *job, double share)
{
    double first_hz = f->voice.tones_hz[0], best = -(double)INFINITY;
    int far = (int)ceil(share * first_hz / (2.0 * THRUM_TOUCHFIT_REACH_HZ));
    if (f->voice.steady || !thrum_touchfit_take_stretch(f, job))
        return best;
    swap_rooms(f);
    for (int i = -far; i <= far; i++) {
        double factor = 1.0 + 2.0 * i * THRUM_TOUCHFIT_REACH_HZ / first_hz;
        if (i != 0 && factor * first_hz > LOWEST_HZ && factor * first_hz < HIGHEST_HZ)
            best = fmax(best, evidence_at(f, job, factor, 0.0, THRUM_TOUCHFIT_REACH_HZ));
    }
    back_home(f);
    return best;
}
