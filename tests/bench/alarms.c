#include "alarms.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rows.h"
#include "sounds.h"
#include "thrum/units.h"
#include "touch.h"

#define RATE     8000.0
#define LENGTH_S 3.0
enum { N = 24000, VOICES = THRUM_MAX_SENDERS };

/* Alarms of one kind of sound; the first few are named. */
struct alarms {
    long touches, alarms;
    char seen[3][120];
};

static void count(struct alarms *a, const struct thrum_reading *reading, const struct thrum_voice *voices,
                  long trial, double mains_hz)
{
    for (int v = 0; v < reading->n_senders; v++) {
        const struct thrum_strength *s = &reading->strength[v];
        a->touches++;
        if (!s->heard)
            continue;
        if (a->alarms < 3)
            snprintf(a->seen[a->alarms], sizeof a->seen[0],
                     "trial %ld: voice %.2f Hz heard at %.1f dBFS, score %.1f, found at %.2f Hz%s%.3f", trial,
                     voices[v].tones_hz[0], s->dbfs, s->score, s->tone_hz, mains_hz > 0.0 ? ", mains " : ", ",
                     mains_hz);
        a->alarms++;
    }
}

static void report(const char *name, const struct alarms *a, double limit)
{
    char what[96];
    double share = (double)a->alarms / (double)a->touches;
    snprintf(what, sizeof what, "%s: false alarms in 1000", name);
    bench_at_most("M7", what, 1000.0 * share, limit,
                  (struct bench_sample){a->touches, 1000.0 * bench_share_error(share, a->touches)});
    for (long i = 0; i < a->alarms && i < 3; i++)
        bench_remark("%s", a->seen[i]);
}

static struct rng rng_for(uint64_t seed, int number, long trial)
{
    return rng_seeded(seed * 1000000007u + (uint64_t)number * 1000000u + (uint64_t)trial);
}

/* Hum as loud as it is 35 dB over a tone of -55 dBFS; voices so far from harmonics of it. */
static void hum_case(const char *name, double mains_hz, double noise_sd, long trials, uint64_t seed,
                     int number)
{
    static const double off_hz[VOICES] = {0.0, 0.0, 1.0, 2.0, 3.5, 6.0, 13.0, 20.0};
    struct alarms alarms = {0};
    struct thrum_reading reading;
    float *x = malloc(N * sizeof *x);
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_for(seed, number, t);
        struct hum hum = {.hz = mains_hz + rng_between(&rng, -0.1, 0.1),
                          .wander_hz = 0.02,
                          .harmonics = 60,
                          .dbfs = -20.0,
                          .wobble_db = 1.0};
        struct thrum_voice voices[VOICES];
        for (int v = 0; v < VOICES; v++) {
            int h = 8 + (int)(40.0 * rng_uniform(&rng));
            double tone =
                (v < 2 ? h / 2 * 2 + v : h) * hum.hz; /* the first on an even one, the second on an odd */
            voices[v] = thrum_voice_beep(tone + off_hz[v], 0.25, 0.25);
        }
        memset(x, 0, N * sizeof *x);
        add_hum(&rng, x, N, RATE, &hum);
        add_noise(&rng, x, N, noise_sd);
        if (sound_measure(x, N, RATE, voices, VOICES, &reading))
            count(&alarms, &reading, voices, t, hum.hz);
    }
    free(x);
    report(name, &alarms, 1.0);
}

void bench_alarms_hum(bool full, uint64_t seed)
{
    long trials = full ? 2500 : 125;
    hum_case("hum 50 Hz in noise", 50.0, 1e-3, trials, seed, 400);
    hum_case("hum 60 Hz in noise", 60.0, 1e-3, trials, seed, 401);
    hum_case("hum 50 Hz, next to no noise", 50.0, 1e-5, trials, seed, 402);
}

typedef void sound_maker(struct rng *rng, float *x, size_t n, double rate_hz);

static void sound_silence(struct rng *rng, float *x, size_t n, double rate_hz)
{
    double constant = rng_uniform(rng) < 0.5 ? 0.0 : rng_between(rng, -0.1, 0.1);
    (void)rate_hz;
    for (size_t i = 0; i < n; i++)
        x[i] += (float)constant;
}

void bench_alarms(bool full, uint64_t seed)
{
    static const struct {
        const char *name;
        sound_maker *make;
        double limit;
    } sounds[] = {{"speech", sound_speech, 1.0},         {"wind", sound_wind, 1.0},
                  {"clicks", sound_clicks, 1.0},         {"click train", sound_click_train, 1.0},
                  {"gain steps", sound_gain_steps, 1.0}, {"digital silence", sound_silence, 0.0}};
    float *x = malloc(N * sizeof *x);
    for (int k = 0; x && k < (int)(sizeof sounds / sizeof *sounds); k++) {
        struct alarms alarms = {0};
        struct thrum_reading reading;
        for (long t = 0; t < (full ? 2500 : 125); t++) {
            struct rng rng = rng_for(seed, 410 + k, t);
            struct thrum_voice voices[VOICES];
            for (int v = 0; v < VOICES; v++)
                voices[v] = thrum_voice_beep(rng_between(&rng, 320.0, 3300.0), 0.25, 0.25);
            memset(x, 0, N * sizeof *x);
            sounds[k].make(&rng, x, N, RATE);
            if (sound_measure(x, N, RATE, voices, VOICES, &reading))
                count(&alarms, &reading, voices, t, 0.0);
        }
        report(sounds[k].name, &alarms, sounds[k].limit);
    }
    free(x);
}

enum other { STEADY, CADENCE, TONE };

/* A cadence that no one would call 0.25/0.25: its cycle is more than 15 % longer or shorter. */
static struct thrum_voice other_sender(struct rng *rng, enum other kind, double tone_hz)
{
    double on = 0.25, off = 0.25, hz = tone_hz;
    if (kind == STEADY) {
        struct thrum_voice steady = {
            .name = "x", .n_tones = 1, .tones_hz = {hz}, .n_steps = 1, .steady = true};
        steady.step[0] = (struct thrum_voice_step){0, 1.0};
        return steady;
    }
    if (kind == CADENCE)
        do {
            on = 0.04 * pow(25.0, rng_uniform(rng));
            off = 0.04 * pow(25.0, rng_uniform(rng));
        } while (fabs(on + off - 0.5) < 0.075);
    if (kind == TONE) /* a receiver rejects from 3.5 % (Q.24 Annex A, read in a transcription) */
        hz *= 1.0 + (rng_uniform(rng) < 0.5 ? -1.0 : 1.0) * rng_between(rng, 0.035, 0.3);
    return thrum_voice_beep(hz, on, off);
}

static void tone_case(const char *name, enum other kind, long trials, uint64_t seed, int number)
{
    struct alarms alarms = {0};
    struct thrum_reading reading;
    float *x = malloc(N * sizeof *x);
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_for(seed, number, t);
        struct thrum_voice voice = thrum_voice_beep(rng_between(&rng, 450.0, 2500.0), 0.25, 0.25);
        struct sender sender = {.voice = other_sender(&rng, kind, voice.tones_hz[0]),
                                .dbfs = rng_between(&rng, -70.0, -20.0),
                                .start_s = rng_uniform(&rng),
                                .wobble_db = kind == STEADY ? rng_between(&rng, 0.0, 1.0) : 0.5};
        memset(x, 0, N * sizeof *x);
        add_sender(&rng, x, N, RATE, &sender);
        add_noise(&rng, x, N, 1e-4);
        if (!sound_measure(x, N, RATE, &voice, 1, &reading))
            continue;
        long before = alarms.alarms;
        count(&alarms, &reading, &voice, t, 0.0);
        if (alarms.alarms > before && before < 3) {
            size_t end = strlen(alarms.seen[before]);
            const struct thrum_voice *v = &sender.voice;
            snprintf(alarms.seen[before] + end, sizeof alarms.seen[0] - end, "; %.1f Hz %.3f/%.3f %.0f dB",
                     v->tones_hz[0], v->step[0].s, v->n_steps > 1 ? v->step[1].s : 0.0, sender.dbfs);
        }
    }
    free(x);
    report(name, &alarms, 1.0);
}

void bench_alarms_tones(bool full, uint64_t seed)
{
    long trials = full ? 20000 : 1000;
    tone_case("steady tone at the voice's frequency", STEADY, trials, seed, 420);
    tone_case("other cadence on the tone", CADENCE, trials, seed, 421);
    tone_case("other tone, same cadence", TONE, trials, seed, 422);
}
