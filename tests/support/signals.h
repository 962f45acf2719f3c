/* Signals with known truth for tests and the benchmark. Seeded; independent of src/practice on purpose. */
#ifndef THRUM_TEST_SIGNALS_H
#define THRUM_TEST_SIGNALS_H

#include <stddef.h>
#include <stdint.h>

#include "thrum/voice.h"

struct rng {
    uint64_t state;
};

struct rng rng_seeded(uint64_t seed);
double rng_uniform(struct rng *rng); /* [0, 1) */
double rng_normal(struct rng *rng);  /* mean 0, sd 1 */
double rng_between(struct rng *rng, double low, double high);

/* Adds to x: white noise of standard deviation sd. */
void add_noise(struct rng *rng, float *x, size_t n, double sd);

/* Adds a constant. */
void add_dc(float *x, size_t n, double value);

/* A sender as it reaches the input. */
struct sender {
    struct thrum_voice voice;
    double dbfs;           /* RMS while on, full-scale sine = 0 */
    double start_s;        /* time into the pattern at sample 0 */
    double drift_hz_per_s; /* all tones move together */
    double offset_hz;      /* all tones off by this at sample 0 */
    double wobble_db;      /* standard deviation of a slow wobble, 0 for none */
    int square;            /* band-limited square wave; dbfs is then that of its fundamental */
    int folded;     /* with square: sampled without a filter, harmonics above half the rate folded down */
    int keep_phase; /* the oscillator runs on through the pauses; else random phase at every beep */
};

/* Adds the sender. Returns the true strength in dBFS: RMS over the on-time as played (fundamental only). */
double add_sender(struct rng *rng, float *x, size_t n, double rate_hz, const struct sender *sender);

/* Mains hum. */
struct hum {
    double hz;         /* fundamental at sample 0 */
    double slope_hz_s; /* moves by this every second */
    double wander_hz;  /* standard deviation of a slow random wander (correlation time 5 s) */
    int harmonics;     /* up to that number, those below 0.49 rate only */
    double dbfs;       /* total RMS, full-scale sine = 0 */
    double wobble_db;  /* standard deviation of each harmonic's slow level wobble (correlation time 1 s) */
};

/* Adds hum: odd harmonics fall as 1/sqrt(h), even ones 10 dB below their neighbours, random phases. */
void add_hum(struct rng *rng, float *x, size_t n, double rate_hz, const struct hum *hum);

#endif
