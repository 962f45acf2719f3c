#include "signal/pattern.h"

#include <math.h>
#include <string.h>

#define CYCLES       1.9  /* repetitions that must be heard, the frames lost at both ends allowed for */
#define LONGEST_S    2.2  /* a step longer than this... */
#define LONG_CYCLES  2.9  /* ...must be heard so often: two notes far apart are no cadence */
#define PLAIN_CYCLES 1.45 /* the same of equal beeps with one longer pause */

static double length(const struct thrum_run *run)
{
    return run->to_s - run->from_s;
}

static bool alike(double a, double b, const struct thrum_pattern_limits *limits)
{
    return fabs(a - b) <= fmax(limits->tolerance_s, limits->tolerance * fmax(a, b));
}

/* Mean length of the whole runs at place j of a unit of p; 0 when none is whole. */
static double mean_length(const struct thrum_run *runs, int n, int p, int j)
{
    double sum = 0.0;
    int count = 0;
    for (int i = j; i < n; i += p)
        if (i > 0 && i < n - 1) {
            sum += length(&runs[i]);
            count++;
        }
    return count ? sum / count : 0.0;
}

/* Do all runs fit a unit of p? Means of the unit's steps are left in mean. The first run and the last are cut by the ends of
 * the sound, and the edge that they have is blurred there: it may be off by twice as much. */
static bool fits(const struct thrum_run *runs, int n, int p, const struct thrum_pattern_limits *limits,
                 double *mean)
{
    struct thrum_pattern_limits at_ends = {2.0 * limits->tolerance_s, 2.0 * limits->tolerance};
    for (int j = 0; j < p; j++) {
        mean[j] = mean_length(runs, n, p, j);
        if (mean[j] == 0.0)
            return false;
    }
    for (int i = 0; i < n; i++) {
        double whole = mean[i % p], is = length(&runs[i]);
        if (runs[i].tone != runs[i % p].tone)
            return false;
        bool cut = i == 0 || i == n - 1;
        if (cut ? is > whole && !alike(is, whole, &at_ends) : !alike(is, whole, limits))
            return false;
    }
    return p < 2 || n < p + 1 || runs[p].tone == runs[0].tone;
}

/* Equal beeps of one tone, equal pauses but for one longer: believed sooner than others. */
static bool plain(const struct thrum_run *runs, int p, const double *mean,
                  const struct thrum_pattern_limits *limits)
{
    double longest = 0.0, beep = 0.0, pause = 0.0;
    int where = -1;
    for (int j = 0; j < p; j++)
        if (runs[j].tone == THRUM_SILENCE && mean[j] > longest) {
            longest = mean[j];
            where = j;
        }
    for (int j = 0; j < p; j++) {
        double *kind = runs[j].tone == THRUM_SILENCE ? &pause : &beep;
        if (runs[j].tone > 0 || j == where)
            continue;
        if (*kind > 0.0 && !alike(mean[j], *kind, limits))
            return false;
        *kind = mean[j];
    }
    for (int j = 0; j < p; j++)
        if (runs[j].tone > 0)
            return false;
    return where >= 0;
}

/* Least squares of the edges against edge = start + number cycle + place: start and cycle, then the places. */
static void fit_edges(const struct thrum_run *runs, int n, int p, const double *mean,
                      struct thrum_pattern *pattern)
{
    double place[THRUM_VOICE_STEPS + 1] = {0.0}, s0 = 0.0, s1 = 0.0, s2 = 0.0, t0 = 0.0, t1 = 0.0;
    for (int j = 0; j < p; j++)
        place[j + 1] = place[j] + mean[j];
    for (int i = 1; i < n; i++) { /* edge i lies before run i */
        double number = i / p, y = runs[i].from_s - place[i % p];
        s0 += 1.0;
        s1 += number;
        s2 += number * number;
        t0 += y;
        t1 += number * y;
    }
    double det = s0 * s2 - s1 * s1;
    pattern->cycle_s = det > 1e-9 ? (s0 * t1 - s1 * t0) / det : place[p];
    pattern->start_s = (t0 - pattern->cycle_s * s1) / s0;
    double at[THRUM_VOICE_STEPS + 1] = {0.0}, scatter = 0.0;
    int count[THRUM_VOICE_STEPS] = {0};
    for (int i = 1; i < n; i++) {
        at[i % p] += runs[i].from_s - pattern->cycle_s * (i / p);
        count[i % p]++;
    }
    for (int j = 0; j < p; j++)
        at[j] = count[j] ? at[j] / count[j] : pattern->start_s + place[j];
    at[p] = at[0] + pattern->cycle_s;
    for (int i = 1; i < n; i++) {
        double away = runs[i].from_s - pattern->cycle_s * (i / p) - at[i % p];
        scatter += away * away;
    }
    pattern->start_s = at[0];
    pattern->scatter_s = n > 1 ? sqrt(scatter / (n - 1)) : 0.0;
    for (int j = 0; j < p; j++)
        pattern->step[j] = (struct thrum_voice_step){.tone = runs[j].tone, .s = at[j + 1] - at[j]};
}

/* Begin with the beep that follows the longest pause, or with tone 0 when there is none. */
static void turn_to_front(struct thrum_pattern *pattern)
{
    struct thrum_voice_step old[THRUM_VOICE_STEPS];
    int p = pattern->n_steps, front = -1;
    double longest = 0.0;
    memcpy(old, pattern->step, sizeof old);
    for (int j = 0; j < p; j++)
        if (old[j].tone == THRUM_SILENCE && old[j].s > longest * 1.02 + 1e-9) {
            longest = old[j].s;
            front = (j + 1) % p;
        }
    for (int j = 0; front < 0 && j < p; j++)
        if (old[j].tone == 0)
            front = j;
    for (int j = 0; j < front; j++)
        pattern->start_s += old[j].s;
    for (int j = 0; j < p; j++)
        pattern->step[j] = old[(j + front) % p];
}

enum thrum_pattern_found thrum_pattern_find(const struct thrum_run *runs, int n,
                                            const struct thrum_pattern_limits *limits,
                                            struct thrum_pattern *pattern)
{
    double mean[THRUM_VOICE_STEPS];
    if (n < 4)
        return n > 1 ? THRUM_PATTERN_TOO_SHORT : THRUM_PATTERN_NONE;
    for (int p = 2; p <= THRUM_VOICE_STEPS && p + 2 <= n; p++) {
        if (!fits(runs, n, p, limits, mean))
            continue;
        double cycle = 0.0, longest = 0.0, heard = runs[n - 1].to_s - runs[0].from_s;
        for (int j = 0; j < p; j++) {
            cycle += mean[j];
            longest = fmax(longest, mean[j]);
        }
        if (longest > LONGEST_S && heard < LONG_CYCLES * cycle)
            return THRUM_PATTERN_NONE;
        if (heard < CYCLES * cycle && !(heard > PLAIN_CYCLES * cycle && plain(runs, p, mean, limits)))
            return plain(runs, p, mean, limits) ? THRUM_PATTERN_TOO_SHORT : THRUM_PATTERN_NONE;
        pattern->n_steps = p;
        fit_edges(runs, n, p, mean, pattern);
        pattern->cycles = heard / cycle;
        turn_to_front(pattern);
        return THRUM_PATTERN_FOUND;
    }
    return THRUM_PATTERN_NONE;
}

bool thrum_pattern_reduce(struct thrum_voice *voice, double least_s)
{
    struct thrum_pattern_limits limits = {.tolerance_s = least_s, .tolerance = 0.02};
    int n = voice->n_steps;
    for (int p = 2; p <= n / 2; p++) {
        bool same = n % p == 0;
        for (int i = 0; i < n - p && same; i++)
            same = voice->step[i].tone == voice->step[i + p].tone &&
                   alike(voice->step[i].s, voice->step[i + p].s, &limits);
        if (!same)
            continue;
        for (int i = 0; i < p; i++) {
            double sum = 0.0;
            for (int j = i; j < n; j += p)
                sum += voice->step[j].s;
            voice->step[i].s = sum * p / n;
        }
        voice->n_steps = p;
        return true;
    }
    return false;
}
