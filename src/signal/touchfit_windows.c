/* The hum-free sound beep by beep and pause by pause. */
#include <math.h>

#include "signal/chance.h"
#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define BESIDE      4       /* places on either side of the tone... */
#define BESIDE_STEP 2.0     /* ...this many beep bandwidths apart */
#define BESIDE_MORE 1.5     /* so much of it is still what noise does */
#define TAKEN_HZ    1.6     /* so far from a hum line the fit takes up what changes */
#define ERRORS      2.0     /* standard errors below the band's noise that count */
#define RIVALS      5       /* places on either side that are asked one by one, one beep bandwidth apart */
#define RIVAL_LN    (-11.5) /* ln of the chance that noise alone is as loud at one place */

struct thrum_touchfit_window thrum_touchfit_window_of(const struct thrum_touchfit *f,
                                                      const struct thrum_beep *beep)
{
    double rate = f->tone[beep->tone].baseband->step_hz;
    double from = fmax(ceil(beep->from_s * rate) - (double)f->first, 0.0);
    double to = fmin(ceil(beep->to_s * rate) - (double)f->first, (double)f->count);
    return (struct thrum_touchfit_window){(size_t)from, to > from ? (size_t)to : (size_t)from};
}

struct cplx thrum_touchfit_sum_in(const struct thrum_touchfit *f, int k, const struct cplx *z,
                                  struct thrum_touchfit_window w, double hz)
{
    struct cplx sum = {0.0, 0.0}, now = {1.0, 0.0};
    struct cplx turn = cplx_turn(-2.0 * THRUM_PI * hz / f->tone[k].baseband->step_hz);
    for (size_t m = w.first; m < w.end; m++) {
        sum = cplx_add(sum, cplx_mul(z[m], now));
        now = cplx_mul(now, turn);
    }
    return sum;
}

double thrum_touchfit_tone_hz_in(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                                 const struct thrum_beep *beep)
{
    double slope = state->slope_hz_per_s * f->voice.tones_hz[beep->tone] / f->voice.tones_hz[0];
    double u = 0.5 * (beep->from_s + beep->to_s) - thrum_touchfit_middle_s(f);
    return state->tone_offset_hz[beep->tone] + slope * u;
}

/* How far the pass band reaches on either side of the tone. */
static double room_hz(const struct thrum_touchfit *f, const struct thrum_lock_state *state, int k)
{
    return f->tone[k].baseband->pass_hz - fabs(state->tone_offset_hz[k]);
}

/* Mean energy of the rest at eight places beside the tone, while the beep lasts, over the noise. */
static double beside(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                     const struct thrum_beep *beep)
{
    const struct thrum_touchfit_tone *tone = &f->tone[beep->tone];
    struct thrum_touchfit_window w = thrum_touchfit_window_of(f, beep);
    double step = fmin(BESIDE_STEP / (beep->to_s - beep->from_s),
                       fmax(room_hz(f, state, beep->tone), 1.0) / BESIDE),
           energy = 0.0;
    if (w.end <= w.first)
        return 1.0;
    for (int i = -BESIDE; i <= BESIDE; i++)
        if (i != 0)
            energy += cplx_power(thrum_touchfit_sum_in(f, beep->tone, tone->rest, w,
                                                       state->tone_offset_hz[beep->tone] + i * step));
    return energy / (2.0 * BESIDE * (double)(w.end - w.first) * tone->noise);
}

void thrum_touchfit_measure_beside(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    for (int i = 0; i < f->result.n_beeps; i++)
        f->result.beep_beside[i] = beside(f, state, &f->result.beep[i]);
}

/* The pauses, in pieces as long as the beeps. Returns how many. */
static int list_gaps(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double longest = fmin(fmax(thrum_beeps_longest_tone_s(&f->voice), 0.05), THRUM_LONGEST_S);
    return f->voice.steady ? 0 : thrum_lock_gaps(f->lock, state, longest, f->gap, THRUM_TOUCHFIT_BEEPS);
}

void thrum_touchfit_list_windows(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct thrum_touchfit_result *r = &f->result;
    int n = f->n_gaps = list_gaps(f, state);
    for (int i = 0; i < r->n_beeps; i++) {
        double v = r->beep_variance[i], more = fmax(r->beep_beside[i] / BESIDE_MORE, 1.0);
        r->window[r->n_windows++] = (struct thrum_keying_window){r->beep_power[i] + v, v * more, true};
    }
    for (int i = 0; i < n; i++) {
        int k = f->gap[i].tone;
        struct thrum_touchfit_window w = thrum_touchfit_window_of(f, &f->gap[i]);
        double samples = (double)(w.end - w.first),
               more = fmax(beside(f, state, &f->gap[i]) / BESIDE_MORE, 1.0);
        if (samples < 2.0)
            continue;
        struct cplx sum =
            thrum_touchfit_sum_in(f, k, f->tone[k].clean, w, thrum_touchfit_tone_hz_in(f, state, &f->gap[i]));
        double v = f->tone[k].noise / samples + THRUM_LEAK_MARGIN * thrum_touchfit_hum_leak(f, state, k);
        r->window[r->n_windows++] =
            (struct thrum_keying_window){cplx_power(sum) / (samples * samples), v * more, false};
    }
}

/* Energy of the rest over the noise at the tone and one beep bandwidth below and above it. */
struct at_tone {
    double below, middle, above;
    int n_sides, n_middle;
};

/* Does a hum line lie so near to a place that the fit takes up what is there? */
static bool is_on_line(const struct thrum_touchfit_tone *tone, double hz, double bandwidth)
{
    double reach = TAKEN_HZ + 0.5 * bandwidth;
    for (int i = 0; i < tone->n_near; i++)
        if (fabs(tone->near[i].offset_hz - hz) < reach)
            return true;
    for (int i = 0; i < tone->n_far; i++)
        if (fabs(tone->far[i].offset_hz - hz) < reach)
            return true;
    return false;
}

/* At the tone itself only in pauses, as in a beep the fit leaves nothing there. */
static void add_at_tone(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                        const struct thrum_beep *beep, bool pause, struct at_tone *at)
{
    const struct thrum_touchfit_tone *tone = &f->tone[beep->tone];
    struct thrum_touchfit_window w = thrum_touchfit_window_of(f, beep);
    double samples = (double)(w.end - w.first), step = tone->baseband->step_hz / fmax(samples, 1.0),
           hz = thrum_touchfit_tone_hz_in(f, state, beep), unit = 1.0 / (fmax(samples, 1.0) * tone->noise);
    if (samples < 8.0 || step > room_hz(f, state, beep->tone))
        return;
    if (pause) {
        at->middle += unit * cplx_power(thrum_touchfit_sum_in(f, beep->tone, tone->rest, w, hz));
        at->n_middle++;
    }
    if (is_on_line(tone, hz - step, step) || is_on_line(tone, hz + step, step))
        return;
    at->below += unit * cplx_power(thrum_touchfit_sum_in(f, beep->tone, tone->rest, w, hz - step));
    at->above += unit * cplx_power(thrum_touchfit_sum_in(f, beep->tone, tone->rest, w, hz + step));
    at->n_sides++;
}

double thrum_touchfit_noise_at_tone(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    struct at_tone at = {0};
    int n_gaps = list_gaps(f, state);
    for (int i = 0; i < f->result.n_beeps; i++)
        add_at_tone(f, state, &f->result.beep[i], false, &at);
    for (int i = 0; i < n_gaps; i++)
        add_at_tone(f, state, &f->gap[i], true, &at);
    double n = 2.0 * at.n_sides + at.n_middle;
    if (n < 1.0)
        return 1.0;
    /* most likely where each energy is exponential and the logarithm of its mean is a straight line in frequency */
    double ratio = (2.0 * sqrt(at.below * at.above) + at.middle) / n;
    return ratio < 1.0 - ERRORS / sqrt(n) ? ratio : 1.0;
}

/* Mean energy of the rest over the noise at one place, so many beep bandwidths from the tones; 0 where noise does as much. */
static double rival_at(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                       const struct thrum_beep *windows, int n, double bandwidths)
{
    double longest = fmin(fmax(thrum_beeps_longest_tone_s(&f->voice), 0.05), THRUM_LONGEST_S), energy = 0.0;
    int counted = 0;
    for (int i = 0; i < n; i++) {
        int k = windows[i].tone;
        struct thrum_touchfit_window w = thrum_touchfit_window_of(f, &windows[i]);
        double samples = (double)(w.end - w.first), away = bandwidths / longest;
        if (samples < 0.5 * longest * f->tone[k].baseband->step_hz || fabs(away) > room_hz(f, state, k) ||
            thrum_touchfit_has_close_tone(f, k))
            continue;
        struct cplx sum = thrum_touchfit_sum_in(f, k, f->tone[k].rest, w,
                                                thrum_touchfit_tone_hz_in(f, state, &windows[i]) + away);
        energy += cplx_power(sum) / (samples * f->tone[k].noise);
        counted++;
    }
    return counted > 0 && thrum_chance_ln_chi2(counted, 2.0 * energy) < RIVAL_LN ? energy / counted : 0.0;
}

double thrum_touchfit_rival(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    const struct thrum_touchfit_result *r = &f->result;
    double loudest = 0.0, own = 0.0;
    for (int i = -RIVALS; i <= RIVALS; i++)
        if (i != 0)
            loudest = fmax(loudest, fmax(rival_at(f, state, r->beep, r->n_beeps, i),
                                         rival_at(f, state, f->gap, f->n_gaps, i)));
    for (int i = 0; i < r->n_beeps; i++) {
        struct thrum_touchfit_window w = thrum_touchfit_window_of(f, &r->beep[i]);
        own += r->beep_power[i] * (double)(w.end - w.first) / f->tone[r->beep[i].tone].noise;
    }
    return loudest > 0.0 ? loudest * r->n_beeps / fmax(own, 1e-9) : 0.0;
}
