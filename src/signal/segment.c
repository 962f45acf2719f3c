#include "signal/segment.h"

#include <math.h>
#include <string.h>

/* The tone of frame t, and by how much it leads. */
static int label(const struct thrum_shorttime *s, const struct thrum_keyed *tones, int n_tones, int t)
{
    int best = THRUM_SILENCE;
    double most = 0.5;
    for (int k = 0; k < n_tones; k++) {
        double level = thrum_tonefind_level(s, &tones[k], t);
        if (level > most) {
            most = level;
            best = k;
        }
    }
    return best;
}

/* How far `tone` is above what would take its place: half its amplitude, or the other tone. */
static double lead(const struct thrum_shorttime *s, const struct thrum_keyed *tones, int tone, int other,
                   int t)
{
    if (tone == THRUM_SILENCE)
        return 0.5 - thrum_tonefind_level(s, &tones[other], t);
    double rival = other == THRUM_SILENCE ? 0.5 : thrum_tonefind_level(s, &tones[other], t);
    return thrum_tonefind_level(s, &tones[tone], t) - rival;
}

static double edge_s(const struct thrum_shorttime *s, const struct thrum_keyed *tones, int before, int after,
                     int t)
{
    double was = lead(s, tones, before, after, t - 1), is = lead(s, tones, before, after, t);
    double part = was > 0.0 && is < 0.0 ? was / (was - is) : 0.5;
    return thrum_shorttime_at_s(s, t - 1 + part);
}

static void take_away(struct thrum_run *runs, int *n, int i, int count)
{
    memmove(runs + i, runs + i + count, (size_t)(*n - i - count) * sizeof *runs);
    *n -= count;
}

/* Give run i to its neighbours. */
static void give_away(struct thrum_run *runs, int *n, int i)
{
    if (i == 0) {
        runs[1].from_s = runs[0].from_s;
        take_away(runs, n, 0, 1);
    } else if (i == *n - 1) {
        runs[i - 1].to_s = runs[i].to_s;
        take_away(runs, n, i, 1);
    } else if (runs[i - 1].tone == runs[i + 1].tone) {
        runs[i - 1].to_s = runs[i + 1].to_s;
        take_away(runs, n, i, 2);
    } else {
        double middle = 0.5 * (runs[i].from_s + runs[i].to_s);
        runs[i - 1].to_s = runs[i + 1].from_s = middle;
        take_away(runs, n, i, 1);
    }
}

static void drop_short(struct thrum_run *runs, int *n, double least_s)
{
    while (*n > 1) {
        int shortest = -1;
        double length = least_s;
        for (int i = 0; i < *n; i++)
            if (runs[i].to_s - runs[i].from_s < length) {
                length = runs[i].to_s - runs[i].from_s;
                shortest = i;
            }
        if (shortest < 0)
            return;
        give_away(runs, n, shortest);
    }
}

int thrum_segment_cut(const struct thrum_shorttime *sound, const struct thrum_keyed *tones, int n_tones,
                      double least_s, struct thrum_run *runs, int max)
{
    if (sound->frames < 1)
        return 0;
    int n = 0, before = label(sound, tones, n_tones, 0);
    runs[n++] = (struct thrum_run){.tone = before, .from_s = thrum_shorttime_at_s(sound, 0)};
    for (int t = 1; t < sound->frames; t++) {
        int now = label(sound, tones, n_tones, t);
        if (now != before && n < max) {
            double at = edge_s(sound, tones, before, now, t);
            runs[n - 1].to_s = at;
            runs[n++] = (struct thrum_run){.tone = now, .from_s = at, .to_s = at};
        }
        if (now == runs[n - 1].tone)
            runs[n - 1].to_s = thrum_shorttime_at_s(sound, t);
        before = now;
    }
    drop_short(runs, &n, least_s);
    return n;
}
