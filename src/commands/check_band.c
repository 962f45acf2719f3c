#include "commands/check_band.h"

#include <math.h>
#include <stdlib.h>

#include "signal/spectrum.h"
#include "signal/window.h"
#include "thrum/units.h"

#define FRAME_S     0.7  /* the lines of 50 Hz hum leave two bins of three free */
#define STEP_DB     25.0 /* across the edge, from a seventh below to a seventh above */
#define QUIET_SHARE 0.25 /* hum that wobbles and beeps that key spread far beside their lines */
#define INNER       0.86
#define OUTER       1.14
/* Power per hertz of rounding to 16 bits, at 48 kHz and about; less is too quiet to tell */
#define QUIETEST 1e-13

struct band {
    int size;
    double bin_hz;
    double *power; /* [size / 2 + 1] per hertz */
    double *sorted;
    float *window, *block;
    struct thrum_bin *bins;
    struct thrum_spectrum *spectrum;
};

static void band_free(struct band *band)
{
    thrum_spectrum_destroy(band->spectrum);
    free(band->power);
    free(band->sorted);
    free(band->window);
    free(band->block);
    free(band->bins);
}

static enum thrum_status band_make(double rate_hz, struct band *band)
{
    int size = thrum_spectrum_good_size((int)(FRAME_S * rate_hz));
    size_t bins = (size_t)size / 2 + 1;
    *band = (struct band){.size = size, .bin_hz = rate_hz / size};
    band->power = calloc(bins, sizeof *band->power);
    band->sorted = calloc(bins, sizeof *band->sorted);
    band->bins = calloc(bins, sizeof *band->bins);
    band->window = calloc((size_t)size, sizeof *band->window);
    band->block = calloc((size_t)size, sizeof *band->block);
    enum thrum_status status = thrum_spectrum_create(size, &band->spectrum);
    if (!status && (!band->power || !band->sorted || !band->bins || !band->window || !band->block))
        status = THRUM_ERR_MEM;
    if (!status)
        thrum_window_fill(THRUM_WINDOW_BLACKMAN_HARRIS, true, band->window, size);
    return status;
}

/* Mean power per hertz, frames half over each other. */
static int measure(struct band *band, const struct check_sound *sound)
{
    size_t channels = (size_t)sound->info.channels, size = (size_t)band->size;
    double squares = 0.0;
    int n = 0;
    for (int i = 0; i < band->size; i++)
        squares += (double)band->window[i] * (double)band->window[i];
    for (size_t at = 0; at + size <= sound->frames; at += size / 2, n++) {
        for (size_t i = 0; i < size; i++) {
            float x = sound->samples[(at + i) * channels];
            band->block[i] = isfinite(x) ? x * band->window[i] : 0.0f;
        }
        thrum_spectrum_forward(band->spectrum, band->block, band->bins);
        for (int k = 0; k <= band->size / 2; k++)
            band->power[k] +=
                (double)(band->bins[k].re * band->bins[k].re + band->bins[k].im * band->bins[k].im);
    }
    for (int k = 0; k <= band->size / 2 && n > 0; k++)
        band->power[k] *= 2.0 / (n * squares * sound->info.rate_hz);
    return n;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* So that this share of the bins from low to high hertz is quieter: lines do not count. */
static double floor_between(struct band *band, double low_hz, double high_hz, double share)
{
    int n = 0;
    for (int k = (int)ceil(low_hz / band->bin_hz); k <= band->size / 2 && k * band->bin_hz <= high_hz; k++)
        band->sorted[n++] = band->power[k];
    qsort(band->sorted, (size_t)n, sizeof *band->sorted, by_size);
    return n > 0 ? band->sorted[(int)(share * n)] : 0.0;
}

static double edge_of(struct band *band, double rate_hz)
{
    static const double edges[] = {4000.0, 8000.0};
    for (int i = 0; i < 2; i++) {
        double edge = edges[i];
        if (2.0 * OUTER * OUTER * edge > rate_hz)
            break;
        double inside = floor_between(band, INNER * INNER * edge, INNER * edge, 0.5);
        double outside = floor_between(band, OUTER * edge, OUTER * OUTER * edge, 0.5);
        if (inside > QUIETEST && 10.0 * log10(inside / fmax(outside, 1e-30)) > STEP_DB)
            return edge;
    }
    return 0.0;
}

enum thrum_status check_band(const struct check_sound *sound, struct check_facts *facts)
{
    struct band band;
    enum thrum_status status = band_make(sound->info.rate_hz, &band);
    facts->noise_dbfs = THRUM_FLOOR_DBFS;
    facts->band_hz = 0.0;
    if (status == THRUM_OK && measure(&band, sound) > 0) {
        double density = floor_between(&band, THRUM_TONE_MIN_HZ, THRUM_TONE_MAX_HZ, QUIET_SHARE);
        facts->noise_dbfs = thrum_db_from_power(2.0 * density * (THRUM_TONE_MAX_HZ - THRUM_TONE_MIN_HZ));
        facts->band_hz = edge_of(&band, sound->info.rate_hz);
    }
    band_free(&band);
    return status;
}
