#include "signal/lock.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "signal/chance.h"
#include "thrum/units.h"

enum {
    PHASES = 400, /* most that a search looks at */
    PLACED = 4096 /* beeps in all of them; a search of more lists them every time */
};

#define OFFSET_SCALE_HZ 0.75 /* prior spread of a tone about the learned one */
#define SLOPE_SD        0.2  /* Hz/s */
#define SCALE_SD        1e-3 /* the sender's clock */
#define EDGE_SD         2e-3 /* s, beep length beside the learned one */
#define LEAST_PART      0.3  /* of a beep that must lie in the stretch for it to count */
/* Energy over the noise, in all beeps, of a tone at the limit of hearing: LIMIT_ONE + LIMIT_PER_ROOT sqrt(beeps). Exact for
 * P_d 0.9 and P_fa 1e-3 (central and non-central chi-square): 11.9, 18.5, 29.3 and 51.8 for 1, 6, 24 and 100 beeps. */
#define LIMIT_ONE      8.0
#define LIMIT_PER_ROOT 4.2

/* Where a running sum is read: straight on from sample i by f. */
struct place {
    size_t i;
    double f;
};

/* A beep in the stretch. */
struct placed {
    int tone;
    struct place from, to;
    double n; /* samples */
};

struct thrum_lock {
    struct thrum_voice voice;
    double step_hz;
    size_t count_max, first, count;
    const struct cplx *z[THRUM_VOICE_TONES];
    double noise[THRUM_VOICE_TONES], dof;
    struct cplx *turned;                 /* [count_max] z of one tone, turned */
    struct cplx *sum[THRUM_VOICE_TONES]; /* [count_max + 1] running sums of it */
    double turned_hz[THRUM_VOICE_TONES], turned_slope[THRUM_VOICE_TONES];
    struct thrum_beep beep[THRUM_LOCK_BEEPS], gap[THRUM_LOCK_BEEPS];
    struct {
        double energy, n;      /* over the noise; samples */
    } heard[THRUM_LOCK_BEEPS]; /* what was added to the energy last measured */
    /* The beeps of each phase that a search looks at, one phase after another, as long as voice and stretch stay the same. */
    struct placed placed[PLACED];
    int placed_from[PHASES + 1];
    bool are_placed, fit_in;
};

enum thrum_status thrum_lock_create(const struct thrum_voice *voice, double step_hz, size_t count_max,
                                    struct thrum_lock **lock)
{
    struct thrum_lock *l = calloc(1, sizeof *l);
    *lock = NULL;
    if (!l)
        return THRUM_ERR_MEM;
    l->voice = *voice;
    l->step_hz = step_hz;
    l->count_max = count_max;
    l->turned = calloc(count_max, sizeof *l->turned);
    bool made = l->turned;
    for (int k = 0; k < voice->n_tones; k++) {
        l->sum[k] = calloc(count_max + 1, sizeof *l->sum[k]);
        made = made && l->sum[k];
    }
    if (!made) {
        thrum_lock_destroy(l);
        return THRUM_ERR_MEM;
    }
    *lock = l;
    return THRUM_OK;
}

void thrum_lock_destroy(struct thrum_lock *lock)
{
    if (!lock)
        return;
    for (int k = 0; k < THRUM_VOICE_TONES; k++)
        free(lock->sum[k]);
    free(lock->turned);
    free(lock);
}

void thrum_lock_set_voice(struct thrum_lock *lock, const struct thrum_voice *voice)
{
    lock->voice = *voice;
    lock->are_placed = false;
}

void thrum_lock_use(struct thrum_lock *lock, const struct cplx *const *z, size_t first, size_t count,
                    const double *noise, double dof)
{
    lock->are_placed &= lock->first == first && lock->count == count;
    lock->first = first;
    lock->count = count;
    lock->dof = dof;
    for (int k = 0; k < lock->voice.n_tones; k++) {
        lock->z[k] = z[k];
        lock->noise[k] = noise[k];
        lock->turned_hz[k] = (double)NAN;
    }
}

static double middle_s(const struct thrum_lock *l)
{
    return ((double)l->first + 0.5 * (double)l->count) / l->step_hz;
}

/* Running sums of z turned back by the tone's offset. */
static void turn(struct thrum_lock *l, int tone, double offset_hz, double slope)
{
    if (l->turned_hz[tone] == offset_hz && l->turned_slope[tone] == slope)
        return;
    struct thrum_turning back = {l->step_hz, (double)l->first / l->step_hz - middle_s(l), -offset_hz, -slope};
    thrum_cplx_turns(back, l->count, l->turned);
    thrum_cplx_multiply(l->turned, l->z[tone], l->count, l->turned);
    thrum_cplx_add_up(l->turned, l->count, l->sum[tone]);
    l->turned_hz[tone] = offset_hz;
    l->turned_slope[tone] = slope;
}

/* The running sum at a place, straight lines between. */
static struct cplx sum_at(const struct thrum_lock *l, int tone, struct place at)
{
    const struct cplx *sum = l->sum[tone] + at.i;
    return cplx_add(cplx_scale(sum[0], 1.0 - at.f), cplx_scale(sum[1], at.f));
}

static double clip(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

/* Position in samples, each sample half before and behind, 0 to count. */
static struct place place_at(const struct thrum_lock *l, double at)
{
    size_t i = (size_t)at < l->count ? (size_t)at : l->count - 1;
    return (struct place){i, at - (double)i};
}

/* The part of a beep that lies in the stretch. false: less than `least` samples. */
static bool place_beep(const struct thrum_lock *l, const struct thrum_beep *beep, double least,
                       struct placed *placed)
{
    double a = clip(beep->from_s * l->step_hz - (double)l->first + 0.5, 0.0, (double)l->count);
    double b = clip(beep->to_s * l->step_hz - (double)l->first + 0.5, 0.0, (double)l->count);
    if (b - a < least || l->count == 0)
        return false;
    *placed = (struct placed){beep->tone, place_at(l, a), place_at(l, b), b - a};
    return true;
}

static void add_beep(struct thrum_lock *l, const struct placed *beep, struct thrum_lock_energy *energy)
{
    double n = beep->n,
           power = cplx_power(cplx_sub(sum_at(l, beep->tone, beep->to), sum_at(l, beep->tone, beep->from)));
    l->heard[energy->beeps].energy = power / n / l->noise[beep->tone];
    l->heard[energy->beeps].n = n;
    energy->explained += l->heard[energy->beeps++].energy;
    energy->on += n;
    energy->power += power / n - l->noise[beep->tone];
}

struct thrum_timing thrum_lock_timing(const struct thrum_lock *lock, const struct thrum_lock_state *state)
{
    struct thrum_timing timing = state->timing;
    double cycle = thrum_voice_cycle_s(&lock->voice);
    timing.start_s -= middle_s(lock) / timing.scale;
    timing.start_s -= cycle * floor(timing.start_s / cycle);
    return timing;
}

static int list(struct thrum_lock *l, const struct thrum_lock_state *state)
{
    double from = ((double)l->first - 0.5) / l->step_hz,
           to = ((double)(l->first + l->count) - 0.5) / l->step_hz;
    struct thrum_timing timing = thrum_lock_timing(l, state);
    return thrum_beeps_list(&l->voice, &timing, from, to, THRUM_LOCK_COHERENT_S, l->beep, THRUM_LOCK_BEEPS);
}

static void turn_all(struct thrum_lock *l, const struct thrum_lock_state *state)
{
    for (int k = 0; k < l->voice.n_tones; k++)
        turn(l, k, state->tone_offset_hz[k],
             state->slope_hz_per_s * l->voice.tones_hz[k] / l->voice.tones_hz[0]);
}

/* The beeps at a state, those of which enough lies in the stretch. @return how many, at most max; -1 if there are more. */
static int place_all(struct thrum_lock *l, const struct thrum_lock_state *state, struct placed *placed,
                     int max)
{
    int n = list(l, state), count = 0;
    for (int i = 0; i < n; i++) {
        double whole = clip(l->beep[i].whole_s, 0.0, THRUM_LOCK_COHERENT_S) * l->step_hz;
        if (count == max)
            return -1;
        count += place_beep(l, &l->beep[i], LEAST_PART * whole, &placed[count]);
    }
    return count;
}

static struct thrum_lock_energy measure_placed(struct thrum_lock *l, const struct placed *placed, int n)
{
    struct thrum_lock_energy energy = {0};
    for (int i = 0; i < n; i++)
        add_beep(l, &placed[i], &energy);
    if (energy.on > 0.0)
        energy.power /= energy.on;
    return energy;
}

struct thrum_lock_energy thrum_lock_measure(struct thrum_lock *lock, const struct thrum_lock_state *state)
{
    struct placed placed[THRUM_LOCK_BEEPS];
    turn_all(lock, state);
    return measure_placed(lock, placed, place_all(lock, state, placed, THRUM_LOCK_BEEPS));
}

int thrum_lock_gaps(struct thrum_lock *lock, const struct thrum_lock_state *state, double longest_s,
                    struct thrum_beep *gaps, int max)
{
    int n = list(lock, state), count = 0;
    for (int tone = 0; tone < lock->voice.n_tones; tone++) {
        double free_from = (double)lock->first / lock->step_hz;
        for (int i = 0; i <= n; i++) {
            if (i < n && lock->beep[i].tone != tone)
                continue;
            double until = i < n ? lock->beep[i].from_s : (double)(lock->first + lock->count) / lock->step_hz;
            double edge = clip(0.15 * (until - free_from), 0.0, 0.015);
            for (double from = free_from + edge; until - edge - from > 0.03 && count < max; from += longest_s)
                gaps[count++] = (struct thrum_beep){
                    .tone = tone, .from_s = from, .to_s = fmin(from + longest_s, until - edge)};
            if (i < n)
                free_from = lock->beep[i].to_s;
        }
    }
    return count;
}

struct thrum_lock_energy thrum_lock_measure_gaps(struct thrum_lock *lock,
                                                 const struct thrum_lock_state *state)
{
    struct placed placed[THRUM_LOCK_BEEPS];
    turn_all(lock, state);
    int n = thrum_lock_gaps(lock, state, THRUM_LOCK_COHERENT_S, lock->gap, THRUM_LOCK_BEEPS), count = 0;
    for (int i = 0; i < n; i++)
        count += place_beep(lock, &lock->gap[i], 2.0, &placed[count]);
    return measure_placed(lock, placed, count);
}

double thrum_lock_prior(double offset_hz)
{
    double r = offset_hz / OFFSET_SCALE_HZ;
    return -log10(1.0 + r * r);
}

/* What is climbed: the log-likelihood with the priors. */
static double worth(struct thrum_lock *l, const struct thrum_lock_state *state)
{
    struct thrum_lock_energy energy = thrum_lock_measure(l, state);
    double slope = state->slope_hz_per_s / SLOPE_SD, scale = (state->timing.scale - 1.0) / SCALE_SD;
    double edge = state->timing.stretch_s / EDGE_SD;
    return energy.explained - energy.beeps - 0.5 * (slope * slope + scale * scale + edge * edge);
}

static void set_offset(const struct thrum_lock *l, struct thrum_lock_state *state, double offset_hz)
{
    state->offset_hz = offset_hz;
    for (int k = 0; k < l->voice.n_tones; k++)
        state->tone_offset_hz[k] = offset_hz * l->voice.tones_hz[k] / l->voice.tones_hz[0];
}

static double offset_step(const struct thrum_lock *l)
{
    double longest = clip(thrum_beeps_longest_tone_s(&l->voice), 0.05, THRUM_LOCK_COHERENT_S);
    return 0.3 / longest;
}

static int phase_steps(const struct thrum_lock *l)
{
    double cycle = thrum_voice_cycle_s(&l->voice);
    int steps = (int)ceil(cycle / clip(thrum_beeps_shortest_s(&l->voice) / 12.0, 0.004, 0.05));
    return l->voice.steady ? 1 : (int)clip(steps, 1, PHASES);
}

/* A sum of exponentials, kept as the logarithm of its largest term and the rest relative to that. */
struct ln_sum {
    double largest, sum;
};

static void ln_sum_add(struct ln_sum *total, double ln)
{
    if (ln > total->largest) {
        total->sum = total->sum * exp(total->largest - ln) + 1.0;
        total->largest = ln;
    } else {
        total->sum += exp(ln - total->largest);
    }
}

/* ln of the likelihood ratio of a tone with so much energy over the noise in all beeps, each with a phase of its own. */
static double ln_ratio_at(const struct thrum_lock *l, const struct thrum_lock_energy *energy, double total,
                          double against_rest)
{
    double ln = -total;
    for (int i = 0; i < energy->beeps; i++) {
        double part = total * l->heard[i].n / energy->on;
        ln += thrum_chance_ln_i0(2.0 * sqrt(part * l->heard[i].energy * against_rest));
    }
    return ln;
}

/* The mean ratio of a tone at the limit of hearing and one of twice its power, for what was measured last. Noise was
 * measured together with the tone: what is explained counts more the less is left. */
static double ln_ratio(const struct thrum_lock *l, const struct thrum_lock_energy *energy)
{
    double against_rest = l->dof / fmax(l->dof - energy->explained, 0.01 * l->dof);
    double total = LIMIT_ONE + LIMIT_PER_ROOT * sqrt(energy->beeps);
    struct ln_sum mean = {-1e300, 0.0};
    double n = fmax(energy->beeps, 1.0), each = energy->explained * against_rest / n;
    if (each <
        1.0) /* less than noise has on average: at most what as many alike would be, as ln I0(2 sqrt e) is concave */
        return n * thrum_chance_ln_i0(2.0 * sqrt(total / n * each)) - total;
    for (int i = 1; i <= 2; i++)
        ln_sum_add(&mean, ln_ratio_at(l, energy, i * total, against_rest));
    return mean.largest + log(0.5 * mean.sum);
}

static void set_phase(const struct thrum_lock *l, struct thrum_lock_state *state, int phase, int phases)
{
    state->timing.start_s = thrum_voice_cycle_s(&l->voice) * phase / phases;
}

/* Place the beeps of all phases, unless they are. */
static void place_phases(struct thrum_lock *l, int phases)
{
    struct thrum_lock_state trial = {.timing = {0.0, 1.0, 0.0}};
    if (l->are_placed)
        return;
    l->are_placed = l->fit_in = true;
    for (int p = 0; l->fit_in && p < phases; p++) {
        int from = l->placed_from[p];
        set_phase(l, &trial, p, phases);
        int n = place_all(l, &trial, l->placed + from, PLACED - from);
        l->fit_in = n >= 0;
        l->placed_from[p + 1] = from + n;
    }
}

/* At a phase of the search; what is turned is turned already where the beeps are placed. */
static struct thrum_lock_energy measure_phase(struct thrum_lock *l, const struct thrum_lock_state *state,
                                              int p)
{
    return l->fit_in
               ? measure_placed(l, l->placed + l->placed_from[p], l->placed_from[p + 1] - l->placed_from[p])
               : thrum_lock_measure(l, state);
}

double thrum_lock_search(struct thrum_lock *lock, double reach_hz, struct thrum_lock_state *state)
{
    struct thrum_lock_state trial = {.timing = {0.0, 1.0, 0.0}};
    struct ln_sum all = {-1e300, 0.0};
    double best = -1e300, step_hz = offset_step(lock), weight = 0.0;
    int reach = (int)ceil(reach_hz / step_hz), phases = phase_steps(lock);
    *state = trial;
    place_phases(lock, phases);
    for (int i = -reach; i <= reach; i++) {
        set_offset(lock, &trial, i * step_hz);
        turn_all(lock, &trial);
        double prior = log(10.0) * thrum_lock_prior(trial.offset_hz), odds = exp(prior);
        for (int p = 0; p < phases; p++) {
            set_phase(lock, &trial, p, phases);
            struct thrum_lock_energy energy = measure_phase(lock, &trial, p);
            ln_sum_add(&all, prior + ln_ratio(lock, &energy));
            weight += odds;
            double value = energy.explained - energy.beeps + prior;
            if (value > best) {
                best = value;
                *state = trial;
            }
        }
    }
    return all.largest + log(all.sum / weight);
}

/* One number of the state moved uphill: steps both ways, halved when neither helps. */
static void climb(struct thrum_lock *l, struct thrum_lock_state *state, double *number, double step,
                  double least, double low, double high)
{
    double best = worth(l, state);
    while (step > least) {
        double at = *number, up, down;
        *number = clip(at + step, low, high);
        up = worth(l, state);
        *number = clip(at - step, low, high);
        down = worth(l, state);
        if (up > best && up >= down) {
            *number = clip(at + step, low, high);
            best = up;
        } else if (down > best) {
            best = down;
        } else {
            *number = at;
            step *= 0.5;
        }
    }
}

void thrum_lock_refine(struct thrum_lock *lock, struct thrum_lock_state *state)
{
    double cycle = thrum_voice_cycle_s(&lock->voice), shortest = thrum_beeps_shortest_s(&lock->voice);
    double longest = clip(thrum_beeps_longest_tone_s(&lock->voice), 0.05, THRUM_LOCK_COHERENT_S);
    double span_s = (double)lock->count / lock->step_hz;
    for (int pass = 0; pass < 2; pass++) {
        for (int k = 0; k < lock->voice.n_tones; k++)
            climb(lock, state, &state->tone_offset_hz[k], 0.15 / longest, 0.002 / longest, -1e3, 1e3);
        climb(lock, state, &state->slope_hz_per_s, 0.2 / longest / span_s, 0.005, -1.0, 1.0);
        if (lock->voice.steady)
            continue;
        climb(lock, state, &state->timing.start_s, shortest / 8.0, 1e-4, -1e3, 1e3);
        climb(lock, state, &state->timing.stretch_s, 4e-3, 1e-4, -0.2 * shortest, 0.2 * shortest);
        climb(lock, state, &state->timing.scale, 0.1 * shortest / span_s, 1e-4 / span_s, 0.99, 1.01);
    }
    state->offset_hz = state->tone_offset_hz[0];
    state->timing.start_s -= cycle * floor(state->timing.start_s / cycle);
}
