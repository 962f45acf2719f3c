/* Steady sounds near the tone that are no mains: clock-driven whines, other machines, trains of clicks. */
#include <math.h>
#include <string.h>

#include "signal/touchfit_own.h"
#include "thrum/units.h"

#define REACH_HZ   24.0 /* on either side of where the tone was found... */
#define CLOSE_HZ   4.0  /* ...and from here on it matters less with the square of the distance */
#define SEGMENT_S  3.0  /* such a sound is in step with itself for so long */
#define PIECE_S    0.2
#define UNSTEADY   0.15 /* of its energy */
#define APART_HZ   1.0  /* from lines that are known already */
#define WIDTH_HZ   0.5
#define ON_TONE_HZ 3.0
#define SAME_HZ    1.0
#define LOUD       100.0 /* energy over the noise: several times what is heard at all */

/* A steady sound at one frequency: what it explains, and what of the sound at that frequency is not steady. */
struct steady {
    double hz;
    double energy;   /* over the noise, less that of noise */
    double unsteady; /* the same of the rest */
};

/* Both from sums over short pieces, which are then added up over each segment. turned: room for the whole stretch. */
static struct steady steady_at(const struct thrum_touchfit *f, const struct thrum_touchfit_tone *tone,
                               double hz, struct cplx *turned)
{
    double rate = tone->baseband->step_hz;
    size_t piece = (size_t)fmax(PIECE_S * rate, 1.0), segment = (size_t)(SEGMENT_S / PIECE_S);
    struct cplx all = {0.0, 0.0};
    double pieces = 0.0, segments = 0.0, n_pieces = 0.0, n_segments = 0.0;
    size_t in_segment = 0;
    thrum_cplx_turns((struct thrum_turning){.rate_hz = rate, .hz = hz}, f->count, turned);
    for (size_t at = 0; at + piece <= f->count; at += piece) {
        struct cplx sum = thrum_cplx_dot(turned + at, tone->clean + at, piece);
        all = cplx_add(all, sum);
        pieces += cplx_power(sum) / (double)piece / tone->noise;
        n_pieces += 1.0;
        if (++in_segment == segment || at + 2 * piece > f->count) {
            segments += cplx_power(all) / (double)(in_segment * piece) / tone->noise;
            n_segments += 1.0;
            all = (struct cplx){0.0, 0.0};
            in_segment = 0;
        }
    }
    return (struct steady){hz, segments - n_segments, pieces - segments - n_pieces + n_segments};
}

static bool is_known(const struct thrum_touchfit_tone *tone, double hz)
{
    for (int i = 0; i < tone->n_near; i++)
        if (fabs(tone->near[i].offset_hz - hz) < APART_HZ)
            return true;
    for (int i = 0; i < tone->n_far; i++)
        if (fabs(tone->far[i].offset_hz - hz) < APART_HZ)
            return true;
    return false;
}

static struct steady strongest(const struct thrum_touchfit *f, const struct thrum_touchfit_tone *tone,
                               double about_hz, struct cplx *turned)
{
    double step = 0.5 / fmin((double)f->count / tone->baseband->step_hz, SEGMENT_S);
    struct steady best = {0};
    double worst = 0.0;
    for (int i = -(int)(REACH_HZ / step); i <= (int)(REACH_HZ / step); i++) {
        if (is_known(tone, about_hz + i * step))
            continue;
        struct steady one = steady_at(f, tone, about_hz + i * step, turned);
        double r = i * step / CLOSE_HZ, harm = one.energy / (1.0 + r * r);
        if (harm > worst) {
            worst = harm;
            best = one;
        }
    }
    return best;
}

/*
 * What keys explains more of the energy by its beeps than by any one steady sound: duty times as much at most (by
 * Cauchy and Schwarz); for a steady sound it is the other way round.
 */
bool thrum_touchfit_add_steady(struct thrum_touchfit *f, int k, double about_hz, double keyed)
{
    struct thrum_touchfit_tone *tone = &f->tone[k];
    struct steady found = strongest(f, tone, about_hz, f->turned);
    double noise = 3.0 * sqrt((double)f->count / tone->baseband->step_hz / PIECE_S);
    bool near = fabs(found.hz) <= THRUM_NEAR_HZ;
    if (found.energy <= keyed || found.unsteady > UNSTEADY * found.energy + noise ||
        (near ? tone->n_near == THRUM_TONEFIT_LINES : tone->n_far == THRUM_HUMLINES_MAX))
        return false;
    f->result.steady_on_tone |= fabs(found.hz) < ON_TONE_HZ && found.energy > LOUD;
    struct thrum_hum_line line = {.offset_hz = found.hz, .power = 1.0, .width_hz = WIDTH_HZ};
    line.power = thrum_humlines_take_out(tone->fit, tone->baseband, &line, tone->clean, f->first, f->count,
                                         tone->clean);
    if (near) {
        tone->near[tone->n_near++] = line;
        tone->taken_near = thrum_humlines_taken(tone->baseband, tone->near, tone->n_near, f->count);
        return true;
    }
    thrum_humlines_take_out(tone->fit, tone->baseband, &line, tone->z, f->first, f->count, tone->z);
    tone->far[tone->n_far++] = line;
    tone->taken_far = thrum_humlines_taken(tone->baseband, tone->far, tone->n_far, f->count);
    return true;
}

bool thrum_touchfit_upside_down(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        for (int i = f->tone[k].n_mains; i < f->tone[k].n_near; i++)
            if (fabs(f->tone[k].near[i].offset_hz - state->tone_offset_hz[k]) < SAME_HZ)
                return true;
    return false;
}
