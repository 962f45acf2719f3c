#include "listen/notvoice.h"

#include <math.h>
#include <stdlib.h>

#define CLICK_S     1e-3
#define LOUD_S      0.064
#define CLICK_PART  0.12 /* of a loud stretch... */
#define CLICK_SHARE 0.65 /* ...holds this share of its energy in clicks */
#define TONAL_SHARE 0.5  /* of a frame's energy in one line */
#define MANY_FRAMES 0.35 /* of the loud frames */
#define SWEEP_BINS  3.0  /* a sweep moves farther than this */
#define JUMP_BINS   3    /* from frame to frame: farther is another tone */
#define HUM_SHARE   0.5  /* of the energy */

enum { LOW_HZ = 250, HIGH_HZ = 3450, MOST_PIECES = 64 };

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
        return "only hum of the mains";
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
    double
        moving; /* RMS distance of the line from its mean, in bins, within stretches in which it does not jump */
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
    bool tonal = follow(facts->sound).tonal > MANY_FRAMES;
    if (tonal && facts->too_short)
        return THRUM_NOT_ENOUGH;
    if (facts->n_hum > 0 && all - left > HUM_SHARE * all)
        return THRUM_NOT_HUM;
    return tonal ? THRUM_NOT_IRREGULAR : THRUM_NOT_NOISE;
}
