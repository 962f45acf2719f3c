/* Mains hum: harmonics of one wandering frequency, each with a slow level of its own. */
#ifndef PRACTICE_HUM_H
#define PRACTICE_HUM_H

#include "practice/slow.h"
#include "thrum/practice.h"

#define PRACTICE_HARMONICS 66

struct hum {
    int harmonics; /* that the sample rate can carry */
    int hop;       /* blocks from one value of the slow curves to the next */
    int block;     /* in the hop */
    double rate_hz, mains_hz, wander_hz, wobble_db;
    double turns;                         /* phase of the fundamental */
    double amplitude[PRACTICE_HARMONICS]; /* steady; total power such that RMS = full-scale sine's */
    double phase_c[PRACTICE_HARMONICS], phase_s[PRACTICE_HARMONICS];
    struct slow level[PRACTICE_HARMONICS];
    double now[PRACTICE_HARMONICS], next[PRACTICE_HARMONICS]; /* amplitude at both ends of the hop */
    struct slow wander;
    double hz_now, hz_next;
    struct dice dice;
};

/* hop: blocks of PRACTICE_BLOCK frames. dice is copied. */
void hum_start(struct hum *hum, const struct thrum_practice_config *config, int hop, struct dice dice);

/* The next PRACTICE_BLOCK samples, at a level of 0 dBFS. */
void hum_make(struct hum *hum, double *wave);

#endif
