#include "trusting.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "processing.h"
#include "rows.h"
#include "signals.h"
#include "thrum/practice.h"
#include "thrum/round.h"
#include "touch.h"

#define RATE 8000.0
enum { BEFORE = 16000, TOUCH = 24000, WIRES = 12 };

static const uint32_t MARKS = THRUM_FAULTS_UNTRUSTED;

/* Any cadence that fits five times into a touch, any tone, any hum. */
static void make_touch(struct rng *rng, double hum_over_tone_db, float *x, struct thrum_voice *voice)
{
    double on = 0.1 * pow(4.0, rng_uniform(rng)), off = 0.1 * pow(4.0, rng_uniform(rng));
    struct sender sender = {.dbfs = rng_between(rng, -60, -15),
                            .start_s = rng_uniform(rng),
                            .offset_hz = rng_between(rng, -1, 1),
                            .wobble_db = rng_between(rng, 0.3, 1.5),
                            .square = rng_uniform(rng) < 0.4};
    struct hum hum = {.hz = (rng_uniform(rng) < 0.5 ? 50 : 60) + rng_between(rng, -0.1, 0.1),
                      .wander_hz = 0.02,
                      .harmonics = 60,
                      .dbfs = fmin(sender.dbfs + hum_over_tone_db, -10.0),
                      .wobble_db = 1.0};
    *voice = thrum_voice_beep(rng_between(rng, 320, 3000), on, off);
    sender.voice = *voice;
    memset(x, 0, (BEFORE + TOUCH) * sizeof *x);
    add_sender(rng, x, BEFORE + TOUCH, RATE, &sender);
    add_hum(rng, x, BEFORE + TOUCH, RATE, &hum);
    add_noise(rng, x, BEFORE + TOUCH, 1e-5 * pow(56.0, rng_uniform(rng)));
}

static struct level_control any_control(struct rng *rng, double level_dbfs)
{
    double most_db = rng_between(rng, 20, 30);
    return (struct level_control){.attack_s = 0.001 * pow(50.0, rng_uniform(rng)),
                                  .release_s = 0.1 * pow(30.0, rng_uniform(rng)),
                                  .ratio = 4.0 * pow(5.0, rng_uniform(rng)),
                                  .most_gain_db = most_db,
                                  .target_dbfs =
                                      level_dbfs + most_db - 10.0}; /* 10 dB over where it begins */
}

static void good_touches(long trials, uint64_t seed, float *x)
{
    long marked = 0, heard = 0;
    for (long t = 0; t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 700000000u + (uint64_t)t);
        struct thrum_voice voice;
        struct thrum_reading reading;
        make_touch(&rng, rng_between(&rng, -20, 30), x, &voice);
        if (!sound_measure(x + BEFORE, TOUCH, RATE, &voice, 1, &reading) || !reading.strength[0].heard)
            continue;
        heard++;
        marked += (reading.faults & MARKS) != 0;
    }
    double share = (double)marked / (double)heard;
    bench_at_most("T1", "touches through a good input: marked, in 1000", 1000.0 * share, 1.0,
                  (struct bench_sample){heard, 1000.0 * bench_share_error(share, heard)});
}

/* A walk over a practice bundle, lifted between the wires. */
struct walk {
    struct thrum_practice_config config;
    size_t lift, touch, n; /* frames */
    float *x;              /* [n] */
};

static struct thrum_practice_config any_bundle(struct rng *rng, double hum_db)
{
    struct thrum_practice_config config = thrum_practice_config_default((uint64_t)(1e9 * rng_uniform(rng)));
    config.rate_hz = RATE;
    config.n_wires = WIRES;
    config.hum_over_tone_db = hum_db;
    config.tone_dbfs = fmin(-30.0, -15.0 - hum_db);
    config.lift_s = rng_between(rng, 0.4, 1.2);
    config.touch_s = rng_between(rng, 1.5, 4.0);
    config.noise_dbfs = rng_between(rng, -90, -60);
    config.hand_wobble_db = rng_between(rng, 0.3, 2.0);
    config.hum_wobble_db = rng_between(rng, 0.2, 2.0);
    config.ending = (enum thrum_ending)(int)(4.99 * rng_uniform(rng));
    return config;
}

static bool play(struct walk *walk)
{
    struct thrum_practice *practice = NULL;
    walk->lift = (size_t)(walk->config.lift_s * RATE);
    walk->touch = (size_t)(walk->config.touch_s * RATE);
    walk->n = WIRES * (walk->lift + walk->touch);
    walk->x = malloc(walk->n * sizeof *walk->x);
    if (!walk->x || thrum_practice_create(&walk->config, &practice) != THRUM_OK)
        return false;
    float *x = walk->x;
    for (int i = 0; i < WIRES; i++) {
        thrum_practice_place(practice, THRUM_PROBE_IN_AIR);
        thrum_practice_read(practice, x, walk->lift);
        thrum_practice_place(practice, i);
        thrum_practice_read(practice, x + walk->lift, walk->touch);
        x += walk->lift + walk->touch;
    }
    thrum_practice_destroy(practice);
    return true;
}

static void spoil(struct rng *rng, const struct walk *walk)
{
    double level =
        walk->config.tone_dbfs + 10.0 * log10(1.0 + thrum_power_from_db(walk->config.hum_over_tone_db));
    struct level_control any = any_control(rng, level);
    apply_level_control(walk->x, walk->n, RATE, &any);
    for (size_t i = 0; i < walk->n; i++)
        walk->x[i] *= (float)thrum_amplitude_from_db(-any.most_gain_db);
}

/* Its touches, known, become a round. True when any of them is marked. */
static bool is_marked(const struct walk *walk, struct thrum_snapshot *snapshot)
{
    struct thrum_round_config config = {.pick = thrum_pick_config_default()};
    struct thrum_round *round;
    bool marked = false;
    config.listener = (struct thrum_listener_config){
        .rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .voice = {walk->config.voice}};
    if (thrum_round_create(&config, &round) != THRUM_OK)
        return false;
    size_t step = walk->lift + walk->touch;
    for (size_t i = 0; i < WIRES; i++) {
        thrum_round_feed(round, walk->x + i * step, step);
        thrum_round_mark(round, "1", (struct thrum_span){i * step + walk->lift + 400, (i + 1) * step - 400});
    }
    thrum_round_snapshot(round, snapshot);
    for (int i = 0; i < snapshot->n_readings; i++)
        marked |= (snapshot->readings[i].faults & MARKS) != 0;
    thrum_round_destroy(round);
    return marked;
}

static double rounds(long trials, uint64_t seed, double low_db, double high_db, bool control)
{
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    long marked = 0;
    for (long t = 0; snapshot && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 710000000u + (uint64_t)t + (control ? 50000u : 0u));
        struct walk walk = {.config = any_bundle(&rng, rng_between(&rng, low_db, high_db))};
        if (play(&walk)) {
            if (control)
                spoil(&rng, &walk);
            marked += is_marked(&walk, snapshot);
        }
        free(walk.x);
    }
    free(snapshot);
    return (double)marked / (double)trials;
}

void bench_trusting(bool full, uint64_t seed)
{
    long touches = full ? 5000 : 200, walks = full ? 400 : 12;
    float *x = malloc((BEFORE + TOUCH) * sizeof *x);
    if (x)
        good_touches(touches, seed, x);
    free(x);
    double share = rounds(walks, seed, -20.0, 30.0, false);
    bench_at_most("T1", "rounds through a good input: marked, in 100", 100.0 * share, 1.0,
                  (struct bench_sample){walks, 100.0 * bench_share_error(share, walks)});
    static const double hum_db[] = {-20.0, 0.0, 20.0};
    static const char *const names[] = {"rounds through a level control, hum 20 dB under the tone: marked, %",
                                        "the same, hum as loud as the tone",
                                        "the same, hum 20 dB over the tone"};
    for (int i = 0; i < 3; i++) {
        share = rounds(walks, seed, hum_db[i], hum_db[i], true);
        bench_note("T2", names[i], 100.0 * share,
                   (struct bench_sample){walks, 100.0 * bench_share_error(share, walks)});
    }
}
