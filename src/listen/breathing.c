#include "listen/breathing.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "signal/spectrum.h"
#include "signal/window.h"
#include "thrum/units.h"

enum {
    PAIRS = 64, /* beeps looked at, the first ones */
    BANDS = 12,
    LEAST_BINS = 4,
    LOW_BINS = 64, /* of the low band: 4 Hz each */
    PRIOR_N = 6,   /* beeps that the expected scatter counts for */
    STEP =
        16 /* sections are whole multiples of so many samples, so that the window holds for a whole touch */
};

#define LONGEST_S   0.25 /* of a section */
#define SHORTEST_S  0.05
#define BEEP_SKIP   0.3  /* of the beep: a level control is still moving */
#define PAUSE_SKIP  0.4  /* of the pause */
#define EDGE_S      0.01 /* kept clear of at every edge */
#define LOW_FROM_HZ 20.0
#define LOW_TO_HZ   230.0
#define BAND_HZ     280.0
#define BANDS_TO_HZ (THRUM_TONE_MIN_HZ + (BANDS - 1) * BAND_HZ) /* 3380: whole bands only */
#define GUARD_HZ    25.0                                        /* of a tone, and GUARD_BINS of resolution */
#define GUARD_BINS  3.0
#define MOST_DB     60.0
#define REST_SD_DB  0.35 /* expected from beep to beep */
#define LOW_SD_DB   0.35
#define QUIETEST    1e-20

struct thrum_breathing {
    double rate_hz;
    int size;
    struct thrum_spectrum *spectrum;
    float *window, *block;
    struct thrum_bin *bins; /* [size / 2 + 1] */
    int length;             /* of the window now */
    signed char *band;      /* [size / 2 + 1] which band a bin belongs to: 0 the low one, -1 none */
};

/* One beep and its pause, seconds. */
struct pair {
    double on, off, end;
};

struct levels {
    double db[BANDS]; /* [0] the low band */
    double line;      /* share of the low band in its strongest line */
};

/* Sums for one thrum_breath. */
struct gathered {
    double d[PAIRS], rise[PAIRS];
    int n;
};

enum thrum_status thrum_breathing_create(double rate_hz, struct thrum_breathing **breathing)
{
    *breathing = NULL;
    struct thrum_breathing *b = calloc(1, sizeof *b);
    if (!b)
        return THRUM_ERR_MEM;
    b->rate_hz = rate_hz;
    b->size = thrum_spectrum_good_size((int)(LONGEST_S * rate_hz));
    b->window = calloc((size_t)b->size, sizeof *b->window);
    b->block = calloc((size_t)b->size, sizeof *b->block);
    b->bins = calloc((size_t)b->size / 2 + 1, sizeof *b->bins);
    b->band = calloc((size_t)b->size / 2 + 1, sizeof *b->band);
    enum thrum_status status = thrum_spectrum_create(b->size, &b->spectrum);
    if (!status && (!b->window || !b->block || !b->bins || !b->band))
        status = THRUM_ERR_MEM;
    if (status) {
        thrum_breathing_destroy(b);
        return status;
    }
    *breathing = b;
    return THRUM_OK;
}

void thrum_breathing_destroy(struct thrum_breathing *breathing)
{
    if (!breathing)
        return;
    thrum_spectrum_destroy(breathing->spectrum);
    free(breathing->window);
    free(breathing->block);
    free(breathing->bins);
    free(breathing->band);
    free(breathing);
}

/* Beeps heard from their beginning, followed by a whole pause. */
static int list_pairs(const struct thrum_touchfit_result *fit, double length_s, struct pair *pairs)
{
    int n = 0;
    double began = -1.0;
    for (int i = 0; i < fit->n_beeps && n < PAIRS; i++) {
        const struct thrum_beep *beep = &fit->beep[i];
        if (beep->begins)
            began = beep->from_s;
        if (!beep->ends || began < 0.0 || !beep->before_pause)
            continue;
        double next = i + 1 < fit->n_beeps ? fit->beep[i + 1].from_s : length_s + 1.0;
        if (next <= length_s)
            pairs[n++] = (struct pair){began, beep->to_s, next};
        began = -1.0;
    }
    return n;
}

static double on_s(const struct pair *pair)
{
    return (1.0 - BEEP_SKIP) * (pair->off - pair->on) - EDGE_S;
}

static double off_s(const struct pair *pair)
{
    return (1.0 - PAUSE_SKIP) * (pair->end - pair->off) - EDGE_S;
}

/* The same length for all sections of a touch: that of the shortest. 0 when that is too short. */
static int section_length(const struct thrum_breathing *b, const struct pair *pairs, int n)
{
    double shortest = LONGEST_S;
    for (int i = 0; i < n; i++)
        shortest = fmin(shortest, fmin(on_s(&pairs[i]), off_s(&pairs[i])));
    if (!(shortest >= SHORTEST_S))
        return 0;
    int length = (int)(shortest * b->rate_hz) / STEP * STEP;
    return length < b->size ? length : b->size / STEP * STEP;
}

static bool near_tone(const struct thrum_touchfit_result *fit, double hz, double guard_hz)
{
    for (int k = 0; k < fit->voice.n_tones; k++) {
        double tone = fit->voice.tones_hz[k] + fit->state.tone_offset_hz[k];
        for (double harmonic = tone; harmonic < hz + guard_hz; harmonic += 2.0 * tone)
            if (fabs(hz - harmonic) < guard_hz)
                return true;
    }
    return false;
}

static void lay_bands(struct thrum_breathing *b, const struct thrum_touchfit_result *fit, int length)
{
    double bin_hz = b->rate_hz / b->size, guard = GUARD_HZ + GUARD_BINS * b->rate_hz / length;
    for (int k = 0; k <= b->size / 2; k++) {
        double hz = k * bin_hz;
        b->band[k] = -1;
        if (hz >= LOW_FROM_HZ && hz <= LOW_TO_HZ)
            b->band[k] = 0;
        else if (hz >= THRUM_TONE_MIN_HZ && hz < BANDS_TO_HZ && !near_tone(fit, hz, guard))
            b->band[k] = (signed char)(1 + (int)((hz - THRUM_TONE_MIN_HZ) / BAND_HZ));
    }
    if (length != b->length)
        thrum_window_fill(THRUM_WINDOW_HANN, true, b->window, length);
    b->length = length;
}

static double bin_power(const struct thrum_breathing *b, int k)
{
    return (double)(b->bins[k].re * b->bins[k].re + b->bins[k].im * b->bins[k].im);
}

/* Of the low band, what its strongest line holds: the bins that the window spreads it over. */
static double strongest_line(const struct thrum_breathing *b, double whole)
{
    int reach = 2 * b->size / b->length, last = (int)(LOW_TO_HZ * b->size / b->rate_hz);
    double power[LOW_BINS], most = 0.0;
    last = last < LOW_BINS - 1 ? last : LOW_BINS - 1;
    for (int k = 0; k <= last; k++)
        power[k] = b->band[k] == 0 ? bin_power(b, k) : 0.0;
    for (int k = 0; k <= last; k++) {
        double sum = 0.0;
        for (int i = k - reach > 0 ? k - reach : 0; i <= k + reach && i <= last; i++)
            sum += power[i];
        most = fmax(most, sum);
    }
    return whole > 0.0 ? most / whole : 0.0;
}

/* Level of every band in the section that ends at end_s; a band without enough bins is a NAN. */
static struct levels look(struct thrum_breathing *b, const float *x, size_t n, double end_s)
{
    struct levels levels;
    double power[BANDS] = {0};
    int count[BANDS] = {0};
    size_t length = (size_t)b->length, end = (size_t)fmax(end_s * b->rate_hz, (double)length);
    end = end < n ? end : n;
    const float *from = x + (end - length);
    for (size_t i = 0; i < length; i++)
        b->block[i] = from[i] * b->window[i];
    memset(b->block + length, 0, ((size_t)b->size - length) * sizeof *b->block);
    thrum_spectrum_forward(b->spectrum, b->block, b->bins);
    for (int k = 0; k <= b->size / 2; k++) {
        if (b->band[k] < 0)
            continue;
        power[b->band[k]] += bin_power(b, k);
        count[b->band[k]]++;
    }
    /* of a sine of amplitude a the bins of a Hann window sum up to 3 / 32 a^2 length size */
    double scale = 32.0 / (3.0 * (double)b->length * b->size);
    for (int i = 0; i < BANDS; i++)
        levels.db[i] = count[i] >= LEAST_BINS ? 10.0 * log10(scale * power[i] + QUIETEST) : (double)NAN;
    levels.line = strongest_line(b, power[0]);
    return levels;
}

static double within(double db)
{
    return fmax(fmin(db, MOST_DB), -MOST_DB);
}

/* Mean over the bands from 300 Hz up of a - b, a quarter left out at either end; NAN without bands. */
static double over_bands(const struct levels *a, const struct levels *b)
{
    double sorted[BANDS], sum = 0.0;
    int n = 0;
    for (int i = 1; i < BANDS; i++) {
        double d = within(a->db[i] - b->db[i]);
        if (isnan(a->db[i] - b->db[i]))
            continue;
        int at = n++;
        for (; at > 0 && sorted[at - 1] > d; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = d;
    }
    int cut = n / 4;
    for (int i = cut; i < n - cut; i++)
        sum += sorted[i];
    return n > 0 ? sum / (n - 2 * cut) : (double)NAN;
}

static void gather(struct gathered *all, double d, double rise)
{
    if (isnan(d) || isnan(rise))
        return;
    all->d[all->n] = d;
    all->rise[all->n++] = rise;
}

/* Mean and its standard error; with few beeps their scatter is held against what it usually is. */
static void average(const double *d, int n, double usual_db, double *mean, double *sd)
{
    double sum = 0.0, scatter = PRIOR_N * usual_db * usual_db;
    for (int i = 0; i < n; i++)
        sum += d[i];
    *mean = sum / n;
    for (int i = 0; i < n; i++)
        scatter += (d[i] - *mean) * (d[i] - *mean);
    *sd = sqrt(scatter / (PRIOR_N + n - 1) / n);
}

static struct thrum_breath breath_of(const struct gathered *all, double usual_db)
{
    struct thrum_breath breath = {.n = all->n};
    int louder = 0;
    if (all->n == 0)
        return breath;
    average(all->d, all->n, usual_db, &breath.db, &breath.sd_db);
    average(all->rise, all->n, usual_db, &breath.rises_db, &breath.rises_sd_db);
    for (int i = 0; i < all->n; i++)
        louder += all->d[i] > 0.0;
    breath.share = (double)louder / all->n;
    return breath;
}

void thrum_breathing_measure(struct thrum_breathing *breathing, const float *x, size_t n,
                             const struct thrum_touchfit_result *fit, struct thrum_breathing_value *value)
{
    struct thrum_breathing *b = breathing;
    struct pair pairs[PAIRS];
    struct gathered rest = {.n = 0}, low = {.n = 0};
    double low_db = 0.0, line = 0.0;
    int n_pairs = list_pairs(fit, (double)n / b->rate_hz, pairs), length = section_length(b, pairs, n_pairs);
    memset(value, 0, sizeof *value);
    value->low_dbfs = THRUM_FLOOR_DBFS;
    if (length == 0 || n_pairs == 0)
        return;
    lay_bands(b, fit, length);
    for (int i = 0; i < n_pairs; i++) {
        struct levels on = look(b, x, n, pairs[i].off - EDGE_S);
        struct levels late = look(b, x, n, pairs[i].end - EDGE_S);
        struct levels early = look(b, x, n, pairs[i].off + EDGE_S + length / b->rate_hz);
        gather(&rest, over_bands(&late, &on), over_bands(&late, &early));
        gather(&low, within(late.db[0] - on.db[0]), within(late.db[0] - early.db[0]));
        low_db += on.db[0] / n_pairs;
        line += on.line / n_pairs;
    }
    value->rest = breath_of(&rest, REST_SD_DB);
    value->low = breath_of(&low, LOW_SD_DB);
    value->low_dbfs = fmax(low_db, THRUM_FLOOR_DBFS);
    value->low_line = line;
}
