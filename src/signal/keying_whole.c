/* Does a tone sound through all of each beep, and in no part of a pause? */
#include <math.h>

#include "signal/keying.h"
#include "signal/keying_own.h"

#define STEP_LN 0.46 /* strengths tried: 2 dB apart... */
#define STEPS   4    /* ...on either side of the mean over the beeps */
#define PART_S  0.25 /* a tone begins and ends within the stretch in such steps */
#define SWITCH  0.1  /* chance that a piece is not as the one before it */

enum { PARTS = 256, PLACES = 2048 };

/* How much likelier a piece is with the tone in it than without. */
static double gain_of(const struct thrum_keying_piece *piece, double power)
{
    double e = piece->power / piece->variance;
    return thrum_keying_ln_heard(e, power / piece->variance) - thrum_keying_ln_heard(e, 0.0);
}

/* As the voice keys, in the best connected part of the stretch. */
static double ln_keyed(const struct thrum_keying_pieces *p, double power)
{
    double gain[PARTS] = {0.0}, best = 0.0, here = 0.0;
    for (int i = 0; i < p->n; i++)
        if (p->piece[i].on)
            gain[(int)fmin(p->piece[i].at_s / PART_S, PARTS - 1)] += gain_of(&p->piece[i], power);
    for (int i = 0; i < PARTS; i++) {
        here = fmax(here + gain[i], 0.0);
        best = fmax(best, here);
    }
    return best;
}

/* In such a share of all pieces, whichever. */
static double ln_any(const struct thrum_keying_pieces *p, double power, double share)
{
    double ln = 0.0;
    for (int i = 0; i < p->n; i++)
        ln += thrum_keying_ln_with(0.0, share, gain_of(&p->piece[i], power));
    return ln;
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
static double ln_runs(const struct thrum_keying_pieces *p, double power, double cycle_s)
{
    double ln = 0.0;
    for (int tone = 0; tone < THRUM_VOICE_TONES; tone++) {
        double gain[PLACES] = {0.0};
        int n = 0;
        for (int i = 0; i < p->n; i++) {
            if (p->piece[i].tone != tone)
                continue;
            int place = (int)fmin(fmod(p->piece[i].at_s, cycle_s) / p->piece_s, PLACES - 1);
            gain[place] += gain_of(&p->piece[i], power);
            n = place >= n ? place + 1 : n;
        }
        ln += n ? ln_best_runs(gain, n) : 0.0;
    }
    return ln;
}

double thrum_keying_whole(const struct thrum_keying_pieces *pieces)
{
    static const double shares[] = {0.25, 0.5, 0.75};
    double sum = 0.0, weight = 0.0, keyed = 0.0, other = 0.0;
    for (int i = 0; i < pieces->n; i++) {
        sum += pieces->piece[i].on ? pieces->piece[i].power - pieces->piece[i].variance : 0.0;
        weight += pieces->piece[i].on;
    }
    if (!(sum > 0.0))
        return 0.0;
    for (int k = -STEPS; k <= STEPS; k++) {
        double power = sum / weight * exp(STEP_LN * k);
        keyed = fmax(keyed, ln_keyed(pieces, power));
        for (int i = 0; i < 3; i++)
            other = fmax(other, ln_any(pieces, power, shares[i]));
        other = fmax(other, ln_runs(pieces, power, pieces->cycle_s));
        other = fmax(other, ln_runs(pieces, power, HUGE_VAL));
    }
    return keyed - other;
}
