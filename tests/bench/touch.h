/* One made-up touch, measured the way the program measures it: through a listener, mains estimate and decimation and all. */
#ifndef THRUM_BENCH_TOUCH_H
#define THRUM_BENCH_TOUCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "signals.h"
#include "thrum/reading.h"

#define TOUCH_DBFS (-45.0) /* how loud the tone is made */

struct touch_case {
    double rate_hz, length_s;
    double on_s, off_s;
    double tone_hz;  /* 0: placed by the next two */
    int parity;      /* on an odd (1) or an even (0) harmonic, any of them (-1) ... */
    double off_hz;   /* ... or so far beside it, on either side */
    double mains_hz; /* 0: no hum; else within 0.1 Hz of this */
    double hum_db;   /* over the tone */
    double snr_db;   /* 10 lg(eta N_on) */
    bool no_tone;    /* hum and noise only */
};

/* What was made. */
struct touch {
    float *x; /* caller's, room for touch_samples() */
    size_t n;
    double rate_hz;
    struct thrum_voice voice;
    double truth_dbfs, mains_hz;
};

/* 8 kHz, 3 s, 250/250 ms, 1037 Hz, no hum, 60 dB. */
struct touch_case touch_case_plain(void);

size_t touch_samples(const struct touch_case *c);

/* Hum: 60 harmonics, wander 0.02 Hz, 1 dB wobble. */
void touch_make(struct rng *rng, const struct touch_case *c, struct touch *touch);

/* false when it could not be measured at all (out of memory). */
bool touch_measure(const struct touch *touch, struct thrum_reading *reading);

/* Any sound, several voices at once. */
bool sound_measure(const float *x, size_t n, double rate_hz, const struct thrum_voice *voices, int n_voices,
                   struct thrum_reading *reading);

#endif
