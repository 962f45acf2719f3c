/* Does a tone sound through all of each beep, and in no part of a pause? */
#include <math.h>

#include "signal/keying.h"
#include "signal/keying_own.h"

#define STEP_LN 0.46 /* strengths tried: 2 dB apart... */
#define STEPS   4    /* ...on either side of the mean over the beeps */
#define PART_S  0.25 /* a tone begins and ends within the stretch in such steps */
#define SWITCH  0.1  /* chance that a piece is not as the one before it */

#define MOST_LN 600.0 /* what is likelier than e to that is no likelier: exp() must not overflow */

enum { PARTS = 256 };

/* How much likelier each piece is with the tone in it than without, at one power of it. */
struct gains {
    const struct thrum_keying_pieces *of;
    double without[THRUM_KEYING_PIECES], gain[THRUM_KEYING_PIECES];
};

static void begin(struct gains *g, const struct thrum_keying_pieces *pieces)
{
    g->of = pieces;
    for (int i = 0; i < pieces->n; i++)
        g->without[i] = thrum_keying_ln_heard(pieces->piece[i].power / pieces->piece[i].variance, 0.0);
}

static void set_power(struct gains *g, double power)
{
    for (int i = 0; i < g->of->n; i++) {
        const struct thrum_keying_piece *piece = &g->of->piece[i];
        g->gain[i] =
            thrum_keying_ln_heard(piece->power / piece->variance, power / piece->variance) - g->without[i];
    }
}

/* As the voice keys, in the best connected part of the stretch. */
static double ln_keyed(const struct gains *g)
{
    double gain[PARTS] = {0.0}, best = 0.0, here = 0.0;
    for (int i = 0; i < g->of->n; i++)
        if (g->of->piece[i].on)
            gain[(int)fmin(g->of->piece[i].at_s / PART_S, PARTS - 1)] += g->gain[i];
    for (int i = 0; i < PARTS; i++) {
        here = fmax(here + gain[i], 0.0);
        best = fmax(best, here);
    }
    return best;
}

/* In a quarter, half or three quarters of all pieces, whichever. */
static double ln_any(const struct gains *g)
{
    double ln[3] = {0.0, 0.0, 0.0};
    for (int i = 0; i < g->of->n; i++) {
        double ratio = exp(fmin(g->gain[i], MOST_LN));
        for (int k = 0; k < 3; k++)
            ln[k] += log(1.0 + 0.25 * (k + 1) * (ratio - 1.0));
    }
    return fmax(ln[0], fmax(ln[1], ln[2]));
}

/* The likeliest runs of places with and without the tone (Viterbi 1967; from memory). */
static double ln_best_runs(const double *gain, int n)
{
    double off = log(0.5), on = off;
    for (int i = 0; i < n; i++) {
        double before_off = off, before_on = on;
        off = fmax(before_off + log(1.0 - SWITCH), before_on + log(SWITCH));
        on = fmax(before_on + log(1.0 - SWITCH), before_off + log(SWITCH)) + gain[i];
    }
    return fmax(off, on);
}

/* In runs that come back after so long, each tone by itself. */
static double ln_runs(const struct gains *g, double cycle_s)
{
    double ln = 0.0;
    for (int tone = 0; tone < THRUM_VOICE_TONES; tone++) {
        double gain[THRUM_KEYING_PIECES] = {0.0};
        int n = 0;
        for (int i = 0; i < g->of->n; i++) {
            const struct thrum_keying_piece *piece = &g->of->piece[i];
            if (piece->tone != tone)
                continue;
            int place = (int)fmin(fmod(piece->at_s, cycle_s) / g->of->piece_s, THRUM_KEYING_PIECES - 1);
            gain[place] += g->gain[i];
            n = place >= n ? place + 1 : n;
        }
        ln += n ? ln_best_runs(gain, n) : 0.0;
    }
    return ln;
}

double thrum_keying_whole(const struct thrum_keying_pieces *pieces)
{
    struct gains gains;
    double sum = 0.0, weight = 0.0, keyed = 0.0, other = 0.0;
    for (int i = 0; i < pieces->n; i++) {
        sum += pieces->piece[i].on ? pieces->piece[i].power - pieces->piece[i].variance : 0.0;
        weight += pieces->piece[i].on;
    }
    if (!(sum > 0.0))
        return 0.0;
    begin(&gains, pieces);
    for (int k = -STEPS; k <= STEPS; k++) {
        set_power(&gains, sum / weight * exp(STEP_LN * k));
        keyed = fmax(keyed, ln_keyed(&gains));
        other = fmax(other, ln_any(&gains));
        other = fmax(other, fmax(ln_runs(&gains, pieces->cycle_s), ln_runs(&gains, HUGE_VAL)));
    }
    return keyed - other;
}
