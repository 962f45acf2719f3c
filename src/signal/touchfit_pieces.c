/* Beeps and pauses in pieces as short as their energy allows: does the tone sound in all of each beep, and in no part of a pause? */
#include <math.h>

#include "base/order.h"
#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define SHORT_S        0.02  /* the noise is measured in such pieces */
#define LEAST_S        0.04  /* of a piece that is weighed */
#define ENERGY         12.0  /* of it over the noise, in a beep */
#define LOWER_QUARTILE 0.288 /* of an exponential distribution of mean 1: ln 4/3 */
#define ENOUGH_CHANGES 16
#define MOVING         1e-4 /* of a tone's power looks like noise: it moves a little */

/* One beep or pause in equal pieces of at most longest_s; half of what two neighbours differ by is noise, unless an edge lies in them. */
static void add_pieces(struct thrum_touchfit *f, const struct thrum_lock_state *state,
                       const struct thrum_beep *whole, bool on, double longest_s)
{
    int k = whole->tone, n = (int)ceil((whole->to_s - whole->from_s) / longest_s - 1e-6);
    double rate = f->tone[k].baseband->step_hz, hz = thrum_touchfit_tone_hz_in(f, state, whole);
    double piece_s = (whole->to_s - whole->from_s) / fmax(n, 1.0);
    struct cplx before = {0.0, 0.0};
    for (int i = 0; i < n && f->n_pieces < THRUM_KEYING_PIECES; i++) {
        struct thrum_beep piece = *whole;
        piece.from_s += i * piece_s;
        piece.to_s = piece.from_s + piece_s;
        struct thrum_touchfit_window w = thrum_touchfit_window_of(f, &piece);
        double samples = (double)(w.end - w.first);
        if (samples < 2.0)
            return;
        struct cplx mean =
            cplx_mul(cplx_scale(thrum_touchfit_sum_in(f, k, f->tone[k].clean, w, hz), 1.0 / samples),
                     cplx_turn(-2.0 * THRUM_PI * hz * (double)w.first / rate));
        if (i > 0)
            f->change[f->n_changes++] = 0.5 * cplx_power(cplx_sub(mean, before)) * samples / rate;
        before = mean;
        f->piece[f->n_pieces++] =
            (struct thrum_keying_piece){.tone = k,
                                        .at_s = fmax(piece.from_s - (double)f->first / rate, 0.0),
                                        .power = cplx_power(mean),
                                        .variance = rate / samples,
                                        .on = on};
    }
}

static void cut(struct thrum_touchfit *f, const struct thrum_lock_state *state, double longest_s)
{
    f->n_pieces = f->n_changes = 0;
    for (int i = 0; i < f->result.n_beeps; i++)
        add_pieces(f, state, &f->result.beep[i], true, longest_s);
    for (int i = 0; i < f->n_gaps; i++)
        add_pieces(f, state, &f->gap[i], false, longest_s);
}

/* Noise per second of the baseband. What another cadence leaves over counts as noise in the fit, but three neighbours of four
 * need not be alike for it to be seen here. */
static double noise_density(struct thrum_touchfit *f)
{
    double fitted = f->tone[0].noise / f->tone[0].baseband->step_hz;
    if (f->n_changes < ENOUGH_CHANGES)
        return fitted;
    thrum_order(f->change, f->n_changes);
    return fmin(fitted, f->change[f->n_changes / 4] / LOWER_QUARTILE);
}

double thrum_touchfit_whole(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    double power = f->result.power, all_s = (double)f->count / f->tone[0].baseband->step_hz;
    double least_s = 2.0 * all_s * f->voice.n_tones / THRUM_KEYING_PIECES;
    if (f->voice.steady || !(power > 0.0))
        return 0.0;
    cut(f, state, fmax(SHORT_S, least_s));
    double density = noise_density(f);
    double piece_s = fmax(fmax(fmin(ENERGY * density / power, THRUM_LONGEST_S), LEAST_S), least_s);
    cut(f, state, piece_s);
    density = fmax(density, MOVING * power * piece_s);
    for (int i = 0; i < f->n_pieces; i++)
        f->piece[i].variance *= density;
    return thrum_keying_whole(
        &(struct thrum_keying_pieces){.piece = f->piece,
                                      .n = f->n_pieces,
                                      .piece_s = piece_s,
                                      .cycle_s = thrum_voice_cycle_s(&f->voice) * state->timing.scale});
}
