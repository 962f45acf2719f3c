#include <math.h>
#include <string.h>

#include "signal/touchfit_own.h"

#define OFFSET_SD_HZ 20.0
#define PHASE_SD_S   0.05
#define STEP_SD_S    0.02
#define STEPS        5                           /* Gauss-Newton steps at most */
#define CLIMBED      (THRUM_TOUCHFIT_PLACES - 1) /* starts climbed from where a line hides the tone */
#define ROUNDS       6                           /* climbs of the best places, while... */
#define SETTLED      0.97                        /* ...each lessens the noise at least to this part */
#define MOST_PHASES  96 /* of a cadence; else as many as an edge through the filter tells apart */

static int count_numbers(const struct thrum_touchfit *f)
{
    return thrum_touchfit_timings_at(f) + f->n_timings;
}

/* Weight of the prior of each number, as curvature, and its pull. */
static void add_priors(const struct thrum_touchfit *f, const struct thrum_lock_state *state,
                       struct thrum_touchfit_sums *sums)
{
    double sd[THRUM_NUMBERS], away[THRUM_NUMBERS] = {0};
    int timings = thrum_touchfit_timings_at(f), n = count_numbers(f);
    for (int i = 0; i < n; i++)
        sd[i] = i < timings ? OFFSET_SD_HZ : STEP_SD_S;
    sd[THRUM_NUMBER_SLOPE] = THRUM_SLOPE_SD;
    away[THRUM_NUMBER_SLOPE] = state->slope_hz_per_s;
    if (n > timings)
        sd[timings] = PHASE_SD_S;
    if (n > timings && !f->free_steps) {
        sd[timings + 1] = THRUM_SCALE_SD;
        away[timings + 1] = state->timing.scale - 1.0;
        sd[timings + 2] = THRUM_EDGE_SD_S;
        away[timings + 2] = state->timing.stretch_s;
    }
    for (int i = 0; i < n; i++) {
        sums->curvature[i][i] += 0.5 / (sd[i] * sd[i]);
        sums->uphill[i] -= 0.5 * away[i] / (sd[i] * sd[i]);
    }
}

/* Cholesky factor of the curvature of n numbers, in place (lower triangle). The priors make it definite. */
static bool factor(double a[THRUM_NUMBERS][THRUM_NUMBERS], int n)
{
    for (int j = 0; j < n; j++) {
        for (int i = 0; i < j; i++) {
            for (int k = 0; k < i; k++)
                a[j][i] -= a[i][k] * a[j][k];
            a[j][i] /= a[i][i];
        }
        for (int k = 0; k < j; k++)
            a[j][j] -= a[j][k] * a[j][k];
        if (!(a[j][j] > 0.0))
            return false;
        a[j][j] = sqrt(a[j][j]);
    }
    return true;
}

static void forward(double l[THRUM_NUMBERS][THRUM_NUMBERS], int n, double *b)
{
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < i; k++)
            b[i] -= l[i][k] * b[k];
        b[i] /= l[i][i];
    }
}

static void back(double l[THRUM_NUMBERS][THRUM_NUMBERS], int n, double *b)
{
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++)
            b[i] -= l[k][i] * b[k];
        b[i] /= l[i][i];
    }
}

static double limited(double value, double most)
{
    return value < -most ? -most : value > most ? most : value;
}

static void step_state(struct thrum_touchfit *f, struct thrum_lock_state *state, const double *step,
                       double share)
{
    const double *timings = step + thrum_touchfit_timings_at(f);
    double shortest = f->voice.steady ? 1.0 : thrum_beeps_shortest_s(&f->voice);
    double longest = fmin(fmax(thrum_beeps_longest_tone_s(&f->voice), 0.05), THRUM_LONGEST_S);
    state->slope_hz_per_s += limited(share * step[THRUM_NUMBER_SLOPE], 0.5);
    for (int k = 0; k < f->voice.n_tones; k++)
        state->tone_offset_hz[k] += limited(share * step[THRUM_NUMBER_OFFSETS + k], 0.5 / longest);
    state->offset_hz = state->tone_offset_hz[0];
    if (f->voice.steady)
        return;
    state->timing.start_s += limited(share * timings[0], 0.3 * shortest);
    if (!f->free_steps) {
        state->timing.scale += limited(share * timings[1], 2e-3);
        state->timing.stretch_s += limited(share * timings[2], 0.2 * shortest);
        return;
    }
    for (int i = 0; i < f->voice.n_steps; i++)
        f->voice.step[i].s += limited(share * timings[1 + i], 0.25 * f->voice.step[i].s);
    thrum_lock_set_voice(f->lock, &f->voice);
}

void thrum_touchfit_climb(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    int n = count_numbers(f);
    thrum_touchfit_fit_all(f, state);
    for (int i = 0; i < STEPS; i++) {
        struct thrum_touchfit_sums sums = f->sums;
        struct thrum_lock_state before = *state;
        struct thrum_voice voice_before = f->voice;
        double share = 1.0, cost = sums.cost;
        add_priors(f, state, &sums);
        if (!factor(sums.curvature, n))
            break;
        forward(sums.curvature, n, sums.uphill);
        double gain = 0.0;
        for (int k = 0; k < n; k++)
            gain += sums.uphill[k] * sums.uphill[k];
        back(sums.curvature, n, sums.uphill);
        if (gain < 0.01)
            break;
        for (; share > 0.1; share *= 0.4) {
            step_state(f, state, sums.uphill, share);
            thrum_touchfit_fit_all(f, state);
            if (f->sums.cost < cost)
                break;
            *state = before;
            f->voice = voice_before;
            thrum_lock_set_voice(f->lock, &f->voice);
        }
        if (share <= 0.1) {
            thrum_touchfit_fit_all(f, state);
            break;
        }
    }
}

/* A place to climb from, and what it costs before the climb. */
struct start {
    double cost;
    struct thrum_lock_state state;
};

/* Keep the cheapest starts, cheapest first. */
static void keep_start(struct start *starts, int *n, const struct start *one)
{
    int at = *n < CLIMBED ? (*n)++ : CLIMBED;
    for (; at > 0 && starts[at - 1].cost > one->cost; at--)
        if (at < CLIMBED)
            starts[at] = starts[at - 1];
    if (at < CLIMBED)
        starts[at] = *one;
}

static double cost_with_prior(const struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    return f->sums.cost - log(10.0) * thrum_lock_prior(state->offset_hz);
}

/* What a phase costs with the tones where they were learned. */
static double cost_at_phase(struct thrum_touchfit *f, struct thrum_lock_state *state, double start_s)
{
    state->timing.start_s = start_s;
    state->offset_hz = 0.0;
    for (int k = 0; k < f->voice.n_tones; k++)
        state->tone_offset_hz[k] = 0.0;
    thrum_touchfit_fit_cost(f, state);
    return cost_with_prior(f, state);
}

/* Phases all over the cadence: the cheapest of those that cost less than their neighbours. Returns how many. */
static int best_phases(struct thrum_touchfit *f, const struct thrum_lock_state *found, struct start *starts)
{
    double cycle = thrum_voice_cycle_s(&f->voice), cost[MOST_PHASES];
    int n = 0, phases = (int)ceil(cycle * f->basebands[0]->pass_hz);
    phases = f->voice.steady ? 1 : phases > MOST_PHASES ? MOST_PHASES : phases;
    struct start one = {.state = *found};
    for (int i = 0; i < phases; i++)
        cost[i] = cost_at_phase(f, &one.state, found->timing.start_s + cycle * i / phases);
    for (int i = 0; i < phases; i++) {
        one.cost = cost[i];
        one.state.timing.start_s = found->timing.start_s + cycle * i / phases;
        if (one.cost <= cost[(i + 1) % phases] && one.cost <= cost[(i + phases - 1) % phases])
            keep_start(starts, &n, &one);
    }
    return n;
}

/* The best offset at a start's phase. */
static void best_offset(struct thrum_touchfit *f, struct start *start)
{
    static const double offsets[] = {-1.5, 1.5};
    for (int i = 0; i < 2; i++) {
        struct start one = *start;
        for (int k = 0; k < f->voice.n_tones; k++)
            one.state.tone_offset_hz[k] = offsets[i] * f->voice.tones_hz[k] / f->voice.tones_hz[0];
        one.state.offset_hz = one.state.tone_offset_hz[0];
        thrum_touchfit_fit_cost(f, &one.state);
        one.cost = cost_with_prior(f, &one.state);
        if (one.cost < start->cost)
            *start = one;
    }
}

/* Climb from every start; the cheapest place goes first, with the fit left there. */
static void climb_all(struct thrum_touchfit *f, struct start *starts, int n)
{
    for (int i = 0; i < n; i++) {
        struct thrum_voice voice = f->voice;
        thrum_touchfit_climb(f, &starts[i].state);
        starts[i].cost = cost_with_prior(f, &starts[i].state);
        f->voice = voice; /* steps that were free go back; the climb that follows frees them again */
        thrum_lock_set_voice(f->lock, &f->voice);
        if (starts[i].cost < starts[0].cost) {
            struct start best = starts[i];
            starts[i] = starts[0];
            starts[0] = best;
        }
    }
    thrum_touchfit_fit_all(f, &starts[0].state);
}

/* Climb all places until the noise that the best one leaves is what they were climbed with. They are kept. */
static void settle(struct thrum_touchfit *f, struct start *starts, int n, struct thrum_lock_state *state)
{
    double noise = (double)INFINITY;
    for (int round = 0; round < ROUNDS && f->tone[0].noise < SETTLED * noise; round++) {
        noise = f->tone[0].noise;
        climb_all(f, starts, n);
        thrum_touchfit_set_noise(f);
    }
    *state = starts[0].state;
    f->n_places = n;
    f->places_noise = f->tone[0].noise;
    for (int i = 0; i < n; i++)
        f->place[i] = starts[i].state;
}

/*
 * A line on the tone hides its frequency in the first look, and with the hum's mean taken out a pause looks like a
 * beep; of long beeps hardly more than their edges are left. So the joint fit is asked at phases all over the cadence,
 * and the climb begins at the best few, and where the first look was. That look took what it did not understand for
 * noise, which makes hum stiff and unlike places alike: they are climbed once more with the noise the best one leaves.
 */
void thrum_touchfit_untangle(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    struct start starts[THRUM_TOUCHFIT_PLACES];
    int n = best_phases(f, state, starts);
    for (int i = 0; i < n; i++)
        best_offset(f, &starts[i]);
    starts[n++].state = *state;
    settle(f, starts, n, state);
}

bool thrum_touchfit_untangle_again(struct thrum_touchfit *f, struct thrum_lock_state *state)
{
    struct start starts[THRUM_TOUCHFIT_PLACES];
    int n = f->n_places;
    if (!(f->tone[0].noise < SETTLED * f->places_noise))
        return false;
    starts[0].state = *state;
    for (int i = 1; i < n; i++)
        starts[i].state = f->place[i];
    settle(f, starts, n, state);
    return true;
}

struct thrum_touchfit_toll thrum_touchfit_toll(const struct thrum_touchfit *fit,
                                               const struct thrum_lock_state *state)
{
    struct thrum_touchfit_sums prior = {0}, sums = fit->sums;
    struct thrum_touchfit_toll toll = {0};
    double moves[THRUM_NUMBERS];
    int n = count_numbers(fit), phase = thrum_touchfit_timings_at(fit) + (fit->free_steps ? 1 : 0);
    add_priors(fit, state, &sums);
    add_priors(fit, state, &prior);
    memcpy(moves, sums.power_moves, sizeof moves);
    if (!factor(sums.curvature, n))
        return toll;
    toll.step_sd_s = PHASE_SD_S; /* of a steady tone nothing tells */
    for (int i = 0; i < n; i++) {
        double unit[THRUM_NUMBERS] = {0};
        unit[i] = 1.0;
        forward(sums.curvature, n, unit);
        back(sums.curvature, n, unit);
        toll.effective += 1.0 - prior.curvature[i][i] * unit[i];
        if (i == phase)
            toll.step_sd_s = sqrt(0.5 * unit[i]);
    }
    forward(sums.curvature, n, moves);
    for (int i = 0; i < n; i++)
        toll.extra += 0.5 * moves[i] * moves[i];
    return toll;
}
