#include "signal/voiceset.h"

#include <math.h>
#include <string.h>

#define MIDDLE_HZ      1000.0
#define MOST_APART_HZ  200.0 /* farther apart gains nothing */
#define HIGHEST_MADE   10000.0
#define SHORTEST_ON_S  0.16
#define PLACES         48 /* between two harmonics of the mains, at most */
#define PLACES_STEP_HZ 5.0

/* Distance to the nearest harmonic of a mains that may be off; 0 inside its band. */
static double mains_room(double hz, double mains_hz)
{
    double nearest = (double)INFINITY;
    for (int h = 1; h * mains_hz * (1.0 - THRUM_VOICESET_MAINS_OFF) < hz + mains_hz; h++) {
        double low = h * mains_hz * (1.0 - THRUM_VOICESET_MAINS_OFF);
        double high = h * mains_hz * (1.0 + THRUM_VOICESET_MAINS_OFF);
        nearest = fmin(nearest, fmax(0.0, fmax(low - hz, hz - high)));
    }
    return nearest;
}

static double harmonic_room(double hz, double other)
{
    double nearest = (double)INFINITY;
    for (int k = 2; k * other <= HIGHEST_MADE; k++)
        nearest = fmin(nearest, fabs(hz - k * other));
    return nearest;
}

/* What the tones a and b leave to c. */
static double mixed_room(double a, double b, double c)
{
    return fmin(fabs(2.0 * a - b - c), fabs(2.0 * b - a - c));
}

struct thrum_voiceset_room thrum_voiceset_room(const double *hz, int n, double mains_hz)
{
    struct thrum_voiceset_room room = {(double)INFINITY, (double)INFINITY, (double)INFINITY,
                                       (double)INFINITY};
    for (int i = 0; i < n; i++) {
        room.mains_hz = fmin(room.mains_hz, mains_room(hz[i], mains_hz));
        for (int j = 0; j < n; j++) {
            if (j == i)
                continue;
            room.apart_hz = fmin(room.apart_hz, fabs(hz[i] - hz[j]));
            room.harmonic_hz = fmin(room.harmonic_hz, harmonic_room(hz[i], hz[j]));
            for (int k = 0; k < j; k++)
                if (k != i)
                    room.mixed_hz = fmin(room.mixed_hz, mixed_room(hz[j], hz[k], hz[i]));
        }
    }
    return room;
}

/* --- The search ---------------------------------------------------------------------------------------------- */

struct search {
    double place[PLACES]; /* rising */
    int n_places;
    int n; /* wanted */
    double apart_hz;
    double chosen[THRUM_MAX_SENDERS];
    double best[THRUM_MAX_SENDERS], cost; /* infinite: none yet */
};

/* The middle between every two neighbouring harmonics that leave enough room, to whole hertz. */
static void list_places(struct search *s, double mains_hz)
{
    for (int h = 1; s->n_places < PLACES; h++) {
        double low = h * mains_hz * (1.0 + THRUM_VOICESET_MAINS_OFF);
        double high = (h + 1) * mains_hz * (1.0 - THRUM_VOICESET_MAINS_OFF);
        double hz = round(0.5 * (low + high));
        if (hz > THRUM_VOICESET_HIGHEST_HZ)
            return;
        if (hz >= THRUM_VOICESET_LOWEST_HZ && mains_room(hz, mains_hz) >= THRUM_VOICESET_MAINS_HZ)
            s->place[s->n_places++] = hz;
    }
}

/* May this tone, higher than all chosen so far, join them? */
static bool fits(const struct search *s, int have, double hz)
{
    for (int i = 0; i < have; i++) {
        if (hz - s->chosen[i] < s->apart_hz || harmonic_room(hz, s->chosen[i]) < THRUM_VOICESET_HARMONIC_HZ)
            return false;
        for (int k = 0; k < i;
             k++) /* of the three, only the middle one can lie between the others like this */
            if (fabs(2.0 * s->chosen[i] - s->chosen[k] - hz) < THRUM_VOICESET_MIXED_HZ)
                return false;
    }
    return true;
}

/* Every rising choice from `from` on; the cost can only grow, so what costs too much already is left. */
static void choose(struct search *s, int have, int from, double cost)
{
    if (cost >= s->cost)
        return;
    if (have == s->n) {
        memcpy(s->best, s->chosen, sizeof s->best);
        s->cost = cost;
        return;
    }
    for (int i = from; i <= s->n_places - (s->n - have); i++) {
        if (!fits(s, have, s->place[i]))
            continue;
        s->chosen[have] = s->place[i];
        choose(s, have + 1, i + 1, cost + fabs(log(s->place[i] / MIDDLE_HZ)));
    }
}

enum thrum_status thrum_voiceset_propose(int n, double mains_hz, struct thrum_voice *voices)
{
    struct search s = {.n = n, .cost = (double)INFINITY};
    if (n < 1 || n > THRUM_MAX_SENDERS || !(mains_hz >= 45.0 && mains_hz <= 66.0))
        return THRUM_ERR_ARG;
    list_places(&s, mains_hz);
    for (s.apart_hz = MOST_APART_HZ; s.apart_hz >= THRUM_VOICESET_APART_HZ && !isfinite(s.cost);
         s.apart_hz -= PLACES_STEP_HZ)
        choose(&s, 0, 0, 0.0);
    if (!isfinite(s.cost))
        return THRUM_ERR_NOT_FOUND;
    for (int i = 0; i < n; i++) {
        double on_s = SHORTEST_ON_S + i * THRUM_VOICESET_STEP_S;
        voices[i] = thrum_voice_beep(s.best[i], on_s, on_s);
        voices[i].name[0] = (char)('a' + i);
    }
    return THRUM_OK;
}
