#include "signal/tonefind.h"

#include <math.h>

#include "base/order.h"

#define STANDS_OUT  5.0   /* scatter over that of the neighbourhood */
#define AROUND_HZ   350.0 /* the neighbourhood, on either side */
#define KEYED       2.0   /* amplitude on over amplitude off, at least */
#define NEARLY_LOUD 0.2   /* a second tone is at least this loud, in amplitude */
#define APART       0.25  /* two tones of a sender sound together at most for this share of the time */
#define TOGETHER    0.6   /* a harmonic sounds at least for this share together with its fundamental */
#define STEADY      20.0  /* mean power over that of the neighbourhood */
#define ABSENT      0.02  /* a steady tone is weaker than half its amplitude for no more of the time */
#define FUNDAMENTAL 0.1   /* a fundamental is at least this loud beside its harmonic, in amplitude... */
#define DIVIDES     0.04 /* ...and no farther from a whole part of it, in bins: peak_hz() errs by 0.02 at most */

enum { AROUND_MAX = 96, TWO_MEANS = 12, BINS = 1024 };

static double scatter(const struct thrum_shorttime *s, int k)
{
    double sum = 0.0, squares = 0.0;
    for (int t = 0; t < s->frames; t++) {
        double p = (double)s->power[(size_t)t * (size_t)s->bins + (size_t)k];
        sum += p;
        squares += p * p;
    }
    double mean = sum / s->frames;
    return sqrt(fmax(squares / s->frames - mean * mean, 0.0));
}

static double median(double *v, int n)
{
    thrum_order(v, n);
    return n > 0 ? v[n / 2] : 0.0;
}

static double floor_around(const double *q, int from, int to, int k, int reach)
{
    double around[AROUND_MAX];
    int n = 0, stride = 2 * reach / AROUND_MAX + 1;
    for (int i = k - reach; i <= k + reach && n < AROUND_MAX; i += stride)
        if (i >= from && i <= to && (i < k - 2 || i > k + 2))
            around[n++] = q[i];
    return median(around, n);
}

/* Amplitudes on and off: the means of the two groups that the midpoint between them parts. */
static void two_means(const struct thrum_shorttime *s, struct thrum_keyed *tone)
{
    double most = 0.0, least = 1e300;
    for (int t = 0; t < s->frames; t++) {
        double a = sqrt(thrum_shorttime_line(s, t, tone->bin));
        most = fmax(most, a);
        least = fmin(least, a);
    }
    double part = 0.5 * (most + least);
    for (int i = 0; i < TWO_MEANS; i++) {
        double on = 0.0, off = 0.0;
        int n_on = 0, n_off = 0;
        for (int t = 0; t < s->frames; t++) {
            double a = sqrt(thrum_shorttime_line(s, t, tone->bin));
            if (a > part) {
                on += a;
                n_on++;
            } else {
                off += a;
                n_off++;
            }
        }
        tone->on = n_on ? on / n_on : part;
        tone->off = n_off ? off / n_off : part;
        tone->share = (double)n_on / s->frames;
        part = 0.5 * (tone->on + tone->off);
    }
    /* the ramps of the window belong to both groups: read the levels from what lies clear of the middle */
    double on = 0.0, off = 0.0;
    int n_on = 0, n_off = 0;
    for (int t = 0; t < s->frames; t++) {
        double level =
            (sqrt(thrum_shorttime_line(s, t, tone->bin)) - tone->off) / fmax(tone->on - tone->off, 1e-30);
        if (level > 0.8) {
            on += level;
            n_on++;
        } else if (level < 0.2) {
            off += level;
            n_off++;
        }
    }
    double gap = tone->on - tone->off, base = tone->off;
    if (n_on)
        tone->on = base + gap * on / n_on;
    if (n_off)
        tone->off = base + gap * off / n_off;
}

/* Between the bins: the peak of the mean spectrum while it sounds, a parabola through the logarithms. */
static double peak_hz(const struct thrum_shorttime *s, const struct thrum_keyed *tone)
{
    double p[3] = {1e-300, 1e-300, 1e-300};
    for (int t = 0; t < s->frames; t++)
        if (thrum_tonefind_level(s, tone, t) > 0.7)
            for (int i = 0; i < 3; i++)
                p[i] += (double)s->power[(size_t)t * (size_t)s->bins + (size_t)(tone->bin + i - 1)];
    double a = log(p[0]), b = log(p[1]), c = log(p[2]), bend = a - 2.0 * b + c;
    double shift = bend < 0.0 ? 0.5 * (a - c) / bend : 0.0;
    return (tone->bin + fmin(fmax(shift, -0.5), 0.5)) * s->bin_hz;
}

static void insert(struct thrum_keyed *found, int *n, const struct thrum_keyed *tone)
{
    int i = *n < THRUM_TONEFIND_MAX ? (*n)++ : THRUM_TONEFIND_MAX - 1;
    if (i == THRUM_TONEFIND_MAX - 1 && *n == THRUM_TONEFIND_MAX && found[i].on > tone->on && found[i].bin > 0)
        return;
    for (; i > 0 && found[i - 1].on < tone->on; i--)
        found[i] = found[i - 1];
    found[i] = *tone;
}

int thrum_tonefind_list(const struct thrum_shorttime *sound, double low_hz, double high_hz,
                        struct thrum_keyed *found)
{
    double q[BINS];
    int from = (int)fmax(low_hz / sound->bin_hz - 3.0, 2.0);
    int to = (int)fmin(fmin(high_hz / sound->bin_hz + 3.0, sound->bins - 3), BINS - 3), n = 0;
    int reach = (int)fmax(AROUND_HZ / sound->bin_hz, 8.0);
    for (int k = from - 2; k <= to + 2; k++)
        q[k] = scatter(sound, k);
    for (int k = from; k <= to; k++) {
        bool top = q[k] >= q[k - 1] && q[k] > q[k + 1] && q[k] >= q[k - 2] && q[k] > q[k + 2];
        struct thrum_keyed tone = {.bin = k};
        if (!top || q[k] < STANDS_OUT * floor_around(q, from - 2, to + 2, k, reach))
            continue;
        two_means(sound, &tone);
        if (tone.on < KEYED * tone.off)
            continue;
        tone.hz = peak_hz(sound, &tone);
        if (tone.hz >= low_hz && tone.hz <= high_hz)
            insert(found, &n, &tone);
    }
    return n;
}

double thrum_tonefind_level(const struct thrum_shorttime *sound, const struct thrum_keyed *tone, int t)
{
    return (sqrt(thrum_shorttime_line(sound, t, tone->bin)) - tone->off) / fmax(tone->on - tone->off, 1e-30);
}

/* Share of the time in which `a` sounds that `b` sounds too. */
static double together(const struct thrum_shorttime *s, const struct thrum_keyed *a,
                       const struct thrum_keyed *b)
{
    int both = 0, one = 0;
    for (int t = 0; t < s->frames; t++)
        if (thrum_tonefind_level(s, a, t) > 0.5) {
            one++;
            both += thrum_tonefind_level(s, b, t) > 0.5;
        }
    return one ? (double)both / one : 0.0;
}

/* What a sound card without a filter folds down lies beside a whole part, not on it. */
static bool is_harmonic(double hz, double of_hz, double bin_hz)
{
    double whole = nearbyint(hz / of_hz);
    return whole >= 2.0 && fabs(of_hz - hz / whole) < DIVIDES * bin_hz;
}

/* The lowest tone that this one is a harmonic of and that sounds with it. */
static struct thrum_keyed fundamental(const struct thrum_shorttime *s, const struct thrum_keyed *found, int n,
                                      const struct thrum_keyed *tone)
{
    struct thrum_keyed best = *tone;
    for (int i = 0; i < n; i++)
        if (found[i].hz < best.hz && is_harmonic(tone->hz, found[i].hz, s->bin_hz) &&
            found[i].on > FUNDAMENTAL * tone->on && together(s, tone, &found[i]) > TOGETHER &&
            together(s, &found[i], tone) > TOGETHER)
            best = found[i];
    return best;
}

int thrum_tonefind_choose(const struct thrum_shorttime *sound, const struct thrum_keyed *found, int n,
                          struct thrum_keyed *tones, int max)
{
    int kept = 0;
    for (int i = 0; i < n && kept < max; i++) {
        bool apart = true;
        if (found[i].on < NEARLY_LOUD * found[0].on)
            continue;
        for (int k = 0; k < kept && apart; k++)
            apart = together(sound, &found[i], &tones[k]) < APART &&
                    together(sound, &tones[k], &found[i]) < APART;
        if (!apart)
            continue;
        tones[kept] = fundamental(sound, found, n, &found[i]);
        kept++;
    }
    return kept;
}

static double mean_power(const struct thrum_shorttime *s, int k)
{
    double sum = 0.0;
    for (int t = 0; t < s->frames; t++)
        sum += (double)s->power[(size_t)t * (size_t)s->bins + (size_t)k];
    return s->frames ? sum / s->frames : 0.0;
}

bool thrum_tonefind_steady(const struct thrum_shorttime *sound, double low_hz, double high_hz,
                           struct thrum_keyed *tone)
{
    double q[BINS];
    int from = (int)fmax(low_hz / sound->bin_hz, 2.0);
    int to = (int)fmin(fmin(high_hz / sound->bin_hz + 1.0, sound->bins - 3), BINS - 3), best = -1;
    int reach = (int)fmax(AROUND_HZ / sound->bin_hz, 8.0);
    for (int k = from - 2; k <= to + 2; k++)
        q[k] = mean_power(sound, k);
    for (int k = from; k <= to; k++)
        if (q[k] >= q[k - 1] && q[k] >= q[k + 1] &&
            q[k] > STEADY * floor_around(q, from - 2, to + 2, k, reach) && (best < 0 || q[k] > q[best]))
            best = k;
    if (best < 0)
        return false;
    *tone = (struct thrum_keyed){.bin = best, .on = sqrt(1.5 * q[best]), .share = 1.0};
    tone->hz = fmin(fmax(peak_hz(sound, tone), low_hz), high_hz);
    int missing = 0;
    for (int t = 0; t < sound->frames; t++)
        missing += thrum_tonefind_level(sound, tone, t) < 0.5;
    return missing < ABSENT * sound->frames;
}
