#include "listen/notvoice.h"

#include <math.h>
#include <stdlib.h>

#include "thrum/units.h"

#define CLICK_S      1e-3
#define LOUD_S       0.064
#define CLICK_PART   0.12 /* of a loud stretch... */
#define CLICK_SHARE  0.65 /* ...holds this share of its energy in clicks */
#define TONAL_SHARE  0.5  /* of a frame's energy in one line */
#define MANY_FRAMES  0.35 /* of the loud frames */
#define SWEEP_BINS   3.0  /* a sweep moves farther than this */
#define JUMP_BINS    3    /* from frame to frame: farther is another tone */
#define HUM_SHARE    0.5  /* of the energy */
#define ALL_HUM      0.9  /* of it: more sound would not help */
#define KEYED_SHARE  0.8  /* of the tonal energy in one or two lines: keyed, and no speech or music */
#define ON_SHARE     0.4  /* of its power when loud: a keyed line is there... */
#define OFF_SHARE    0.04 /* ...and below this it is not */
#define LEAST_EVEN   0.75
#define LEAST_SILENT 0.15 /* of the frames: what sounds all the time is not keyed */
#define SIDE_DB      20.0 /* a companion of a hum line is at most so much weaker... */
#define SIDE_OVER    10.0 /* ...and stands so far out of what is beside it, dB */
#define SIDE_S       0.5

enum { LOW_HZ = 250, HIGH_HZ = 3450, MOST_PIECES = 64, BINS = 1024, LINES = 2, LEAST_SWITCHES = 30 };

const char *thrum_not_voice_text(enum thrum_not_voice what)
{
    switch (what) {
    case THRUM_VOICE_FOUND:
        return "a sender's voice";
    case THRUM_NOT_ENOUGH:
        return "not enough sound: at least two repetitions of the beeps are needed";
    case THRUM_NOT_SILENCE:
        return "digital silence: no sound arrives at all";
    case THRUM_NOT_HUM:
        return "hum of the mains, and no voice that stands out of it";
    case THRUM_NOT_NOISE:
        return "only noise";
    case THRUM_NOT_CLICKS:
        return "clicks, not a tone";
    case THRUM_NOT_IRREGULAR:
        return "tones without a repeating pattern, like speech or music";
    case THRUM_NOT_SWEEPING:
        return "a tone whose frequency moves, like a siren";
    case THRUM_NOT_TOO_FAST:
        return "beeps shorter than 40 ms: too fast to time";
    case THRUM_NOT_DATA:
        return "a tone keyed without a repeating pattern, like Morse or data";
    }
    return "something unknown";
}

bool thrum_notvoice_silent(const float *x, size_t n)
{
    for (size_t i = 1; i < n; i++)
        if (x[i] != x[0])
            return false;
    return true;
}

static double energy(const float *x, size_t n)
{
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < n; i++) {
        sum += (double)x[i];
        squares += (double)x[i] * (double)x[i];
    }
    return squares - sum * sum / (double)(n ? n : 1);
}

/* Share of a stretch's energy that lies in its loudest small part. */
static double peakedness(const float *x, size_t n, size_t piece)
{
    double pieces[MOST_PIECES], all = 0.0, top = 0.0;
    int count = 0, most;
    for (size_t at = 0; at + piece <= n && count < MOST_PIECES; at += piece) {
        double e = energy(x + at, piece);
        int i = count++;
        all += e;
        for (; i > 0 && pieces[i - 1] < e; i--)
            pieces[i] = pieces[i - 1];
        pieces[i] = e;
    }
    most = (int)(CLICK_PART * count);
    for (int i = 0; i < most; i++)
        top += pieces[i];
    return all > 0.0 ? top / all : 0.0;
}

/* The energy-weighted peakedness of all stretches: about 0.2 for noise, 0.13 for tones, near 1 for clicks. */
static bool clicks(const struct thrum_notvoice_facts *facts)
{
    size_t piece = (size_t)(CLICK_S * facts->rate_hz), length = (size_t)(LOUD_S * facts->rate_hz);
    double weighted = 0.0, all = 0.0;
    for (size_t at = 0; at + length <= facts->n; at += length) {
        double e = energy(facts->x + at, length);
        weighted += e * peakedness(facts->x + at, length, piece);
        all += e;
    }
    return all > 0.0 && weighted > CLICK_SHARE * all;
}

/* Strongest line of a frame and its share of the frame's energy. */
static double strongest(const struct thrum_shorttime *s, int t, int *bin, double *total)
{
    int low = (int)(LOW_HZ / s->bin_hz), high = (int)fmin(HIGH_HZ / s->bin_hz, s->bins - 2);
    const float *p = s->power + (size_t)t * (size_t)s->bins;
    double sum = 0.0;
    *bin = low;
    for (int k = low; k <= high; k++) {
        sum += (double)p[k];
        if (p[k] > p[*bin])
            *bin = k;
    }
    *total = sum;
    return sum > 0.0 ? 1.5 * thrum_shorttime_line(s, t, *bin) / sum : 0.0;
}

struct course {
    double tonal; /* share of the energy in frames with one strong line */
    /* RMS distance of the line from its mean, in bins, within stretches in which it does not jump */
    double moving;
};

/* A stretch in which the line moves without a jump. */
struct glide {
    double sum, squares;
    int frames, before;
};

static void end_glide(struct glide *glide, double *scatter)
{
    if (glide->frames > 0)
        *scatter += glide->squares - glide->sum * glide->sum / glide->frames;
    *glide = (struct glide){.before = -1};
}

static struct course follow(const struct thrum_shorttime *s)
{
    struct glide glide = {.before = -1};
    double all = 0.0, tonal = 0.0, scatter = 0.0;
    int frames = 0;
    for (int t = 0; t < s->frames; t++) {
        int bin;
        double total, share = strongest(s, t, &bin, &total);
        all += total;
        if (share < TONAL_SHARE || (glide.before >= 0 && abs(bin - glide.before) > JUMP_BINS))
            end_glide(&glide, &scatter);
        if (share < TONAL_SHARE)
            continue;
        tonal += total;
        frames++;
        glide.sum += bin;
        glide.squares += (double)bin * bin;
        glide.frames++;
        glide.before = bin;
    }
    end_glide(&glide, &scatter);
    return (struct course){.tonal = all > 0.0 ? tonal / all : 0.0,
                           .moving = frames ? sqrt(fmax(scatter, 0.0) / frames) : 0.0};
}

bool thrum_notvoice_sweeps(const struct thrum_shorttime *sound)
{
    struct course course = follow(sound);
    return course.tonal > 0.5 && course.moving > SWEEP_BINS;
}

/* The strongest line in which there still is some energy; taken out with its neighbours. */
static int take_strongest(double *energy, int n, double *sum)
{
    int top = 0;
    for (int k = 0; k < n; k++)
        top = energy[k] > energy[top] ? k : top;
    for (int k = top > 1 ? top - 1 : 0; k <= top + 1 && k < n; k++) {
        *sum += energy[k];
        energy[k] = 0.0;
    }
    return top;
}

/* A line's power while it sounds: its mean, weighted by itself. */
static double loudness(const struct thrum_shorttime *s, int bin)
{
    double sum = 0.0, squares = 0.0;
    for (int t = 0; t < s->frames; t++) {
        double p = thrum_shorttime_line(s, t, bin);
        sum += p;
        squares += p * p;
    }
    return sum > 0.0 ? squares / sum : 0.0;
}

/* Share of a line's energy in frames in which it is about as loud as usual. Notes fade, noise scatters. */
static double evenness(const struct thrum_shorttime *s, int bin, double loud)
{
    double sum = 0.0, even = 0.0;
    for (int t = 0; t < s->frames; t++) {
        double p = thrum_shorttime_line(s, t, bin);
        sum += p;
        even += p > ON_SHARE * loud && p < (2.0 - ON_SHARE) * loud ? p : 0.0;
    }
    return sum > 0.0 ? even / sum : 0.0;
}

/* Is nearly all that is tonal in one line, or in two, and do these switch all the time? */
static bool keyed(const struct thrum_shorttime *s)
{
    double energy[BINS] = {0}, all = 0.0, lines = 0.0, mean[LINES] = {0};
    int line[LINES], before = -1, switches = 0, frames = 0, silent = 0;
    for (int t = 0; t < s->frames; t++) {
        int bin;
        double total, share = strongest(s, t, &bin, &total);
        if (share < TONAL_SHARE || bin >= BINS)
            continue;
        energy[bin] += total;
        all += total;
        frames++;
    }
    for (int i = 0; i < LINES; i++)
        line[i] = take_strongest(energy, BINS, &lines);
    if (frames == 0 || lines < KEYED_SHARE * all)
        return false;
    for (int i = 0; i < LINES; i++)
        mean[i] = loudness(s, line[i]);
    if (evenness(s, line[0], mean[0]) < LEAST_EVEN)
        return false;
    for (int t = 0; t < s->frames; t++) {
        int now = LINES;
        for (int i = LINES - 1; i >= 0; i--)
            if (thrum_shorttime_line(s, t, line[i]) > ON_SHARE * mean[i])
                now = i;
        silent += thrum_shorttime_line(s, t, line[0]) < OFF_SHARE * mean[0];
        bool between = now == LINES && thrum_shorttime_line(s, t, line[0]) > OFF_SHARE * mean[0];
        if (between || now == before)
            continue;
        switches++;
        before = now;
    }
    return switches > LEAST_SWITCHES && silent > LEAST_SILENT * s->frames;
}

/* Power of a line through a Hann window, mean over pieces. */
static double power_at(const float *x, size_t n, double rate_hz, double hz)
{
    size_t piece = (size_t)(SIDE_S * rate_hz);
    double sum = 0.0;
    for (size_t at = 0; at + piece <= n; at += piece) {
        double re = 0.0, im = 0.0;
        for (size_t i = 0; i < piece; i++) {
            double turn = 2.0 * THRUM_PI * hz * (double)i / rate_hz;
            double y = (double)x[at + i] * (1.0 - cos(2.0 * THRUM_PI * (double)i / (double)piece));
            re += y * cos(turn);
            im += y * sin(turn);
        }
        sum += re * re + im * im;
    }
    return sum;
}

/* Is there a companion so far away? */
static bool companion(const float *x, size_t n, double rate_hz, double hz, double away_hz, double tone)
{
    double there = power_at(x, n, rate_hz, hz + away_hz), beside = 0.0;
    for (int side = -1; side <= 1; side += 2)
        beside += 0.5 * power_at(x, n, rate_hz, hz + away_hz + side * 12.0);
    return there > tone * thrum_power_from_db(-SIDE_DB) && there > beside * thrum_power_from_db(SIDE_OVER);
}

bool thrum_notvoice_beside_hum(const float *x, size_t n, double rate_hz, double hz, double mains_hz)
{
    double tone = power_at(x, n, rate_hz, hz);
    int below = 0, above = 0;
    for (int k = 2; k <= 4; k += 2) {
        below += companion(x, n, rate_hz, hz, -k * mains_hz, tone);
        above += companion(x, n, rate_hz, hz, k * mains_hz, tone);
    }
    return below > 0 && above > 0;
}

enum thrum_not_voice thrum_notvoice_tell(const struct thrum_notvoice_facts *facts)
{
    if (thrum_notvoice_silent(facts->x, facts->n))
        return THRUM_NOT_SILENCE;
    if (clicks(facts))
        return THRUM_NOT_CLICKS;
    if (thrum_notvoice_sweeps(facts->sound))
        return THRUM_NOT_SWEEPING;
    if (facts->too_fast)
        return THRUM_NOT_TOO_FAST;
    double all = energy(facts->x, facts->n), left = energy(facts->clean, facts->n);
    double hum = facts->n_hum > 0 ? all - left : 0.0;
    bool tonal = follow(facts->sound).tonal > MANY_FRAMES;
    if (tonal && facts->too_short && hum < ALL_HUM * all)
        return THRUM_NOT_ENOUGH;
    if (hum > HUM_SHARE * all)
        return THRUM_NOT_HUM;
    if (tonal && keyed(facts->quick))
        return THRUM_NOT_DATA;
    return tonal ? THRUM_NOT_IRREGULAR : THRUM_NOT_NOISE;
}
