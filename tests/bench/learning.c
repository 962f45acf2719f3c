#include "learning.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cadences.h"
#include "rows.h"
#include "signals.h"
#include "thrum/learn.h"
#include "thrum/units.h"

#define RATE     48000.0
#define LENGTH_S 6.0
#define LEVEL    (-25.0)
#define NOISE_DB (-20.0) /* RMS in 4 kHz, beside the tone */
#define LIMIT_S  3e-3

struct tally {
    int tried, right;
    double worst_hz_share; /* of what is allowed */
    double worst_s, squares_s;
};

/* 6 s at the sender's lead: hum as loud as the tone, 60 harmonics, wander 0.02 Hz, 1 dB wobble; a little noise. */
static void make(struct rng *rng, const struct thrum_voice *voice, float *x, size_t n)
{
    struct sender sender = {
        .voice = *voice, .dbfs = LEVEL, .start_s = rng_uniform(rng) * thrum_voice_cycle_s(voice)};
    struct hum hum = {.hz = (rng_uniform(rng) < 0.5 ? 50.0 : 60.0) + rng_between(rng, -0.05, 0.05),
                      .wander_hz = 0.02,
                      .harmonics = 60,
                      .dbfs = LEVEL,
                      .wobble_db = 1.0};
    memset(x, 0, n * sizeof *x);
    add_sender(rng, x, n, RATE, &sender);
    add_hum(rng, x, n, RATE, &hum);
    add_noise(rng, x, n, thrum_amplitude_from_db(LEVEL + NOISE_DB - 3.01) * sqrt(RATE / 8000.0));
}

static void learn(const struct thrum_voice *truth, const float *x, size_t n, struct tally *tally)
{
    struct thrum_learner *learner;
    struct thrum_learned learned;
    double hz, s, allowed = 0.1 + 50e-6 * truth->tones_hz[0];
    tally->tried++;
    if (thrum_learner_create(RATE, 1, &learner))
        return;
    thrum_learner_feed(learner, x, n);
    if (!thrum_learner_result(learner, &learned) && cadence_matches(&learned.voice, truth, &hz, &s)) {
        tally->right++;
        tally->worst_hz_share = fmax(tally->worst_hz_share, hz / allowed);
        tally->worst_s = fmax(tally->worst_s, s);
        tally->squares_s += s * s;
    }
    thrum_learner_destroy(learner);
}

void bench_learning(bool full, uint64_t seed)
{
    size_t n = (size_t)(LENGTH_S * RATE);
    float *x = malloc(n * sizeof *x);
    struct tally all = {0};
    int trials = full ? 20 : 1;
    if (!x)
        return;
    for (int c = 0; c < n_cadences; c++) {
        struct thrum_voice voice = cadence_voice(&cadences[c]);
        struct tally one = {0};
        for (int t = 0; t < trials; t++) {
            struct rng rng = rng_seeded(seed + 1000u * (uint64_t)c + (uint64_t)t);
            make(&rng, &voice, x, n);
            learn(&voice, x, n, &one);
        }
        if (full)
            bench_remark("%-40s pattern right %5.3f, worst %.3f of 0.1 Hz + 50 ppm, worst %.3f ms of 3, n %d",
                         cadences[c].name, (double)one.right / one.tried, one.worst_hz_share,
                         1e3 * one.worst_s, one.tried);
        all.tried += one.tried;
        all.right += one.right;
        all.worst_hz_share = fmax(all.worst_hz_share, one.worst_hz_share);
        all.worst_s = fmax(all.worst_s, one.worst_s);
        all.squares_s += one.squares_s;
    }
    double share = (double)all.right / all.tried;
    bench_at_least("M8", "voice learned, pattern right", share, 1.0,
                   (struct bench_sample){all.tried, bench_share_error(share, all.tried)});
    bench_at_most("M8", "largest frequency error, of 0.1 Hz + 50 ppm", all.worst_hz_share, 1.0,
                  (struct bench_sample){all.right, 0.0});
    bench_at_most("M8", "largest error of a step, ms", 1e3 * all.worst_s, 1e3 * LIMIT_S,
                  (struct bench_sample){all.right, 0.0});
    bench_remark("RMS error of a step %.4f ms", 1e3 * sqrt(all.squares_s / fmax(all.right, 1)));
    free(x);
}
