#include "speed.h"

#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "rows.h"
#include "signal/spectrum.h"
#include "signals.h"
#include "thrum/round.h"
#include "thrum/units.h"

#define RATE 48000.0

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Memory in use, megabytes, as the system counts it; NaN where it does not tell. */
static double memory_mb(void)
{
    FILE *file = fopen("/proc/self/statm", "r");
    long all, resident;
    int got = file ? fscanf(file, "%ld %ld", &all, &resident) : 0;
    if (file)
        fclose(file);
    return got == 2 ? (double)resident * (double)sysconf(_SC_PAGESIZE) / 1e6 : (double)NAN;
}

/* A minute of a round: a touch of every wire for 3 s of each 4, hum all the while. */
static void make_minute(struct rng *rng, float *x, size_t n)
{
    struct hum hum = {.hz = 50.03, .wander_hz = 0.02, .harmonics = 60, .dbfs = -30.0, .wobble_db = 1.0};
    memset(x, 0, n * sizeof *x);
    for (size_t at = 0; at < n; at += (size_t)(4.0 * RATE)) {
        struct sender sender = {.voice = thrum_voice_beep(1037.0, 0.25, 0.25),
                                .dbfs = rng_between(rng, -60.0, -40.0),
                                .start_s = rng_uniform(rng),
                                .wobble_db = 0.5};
        size_t length = (size_t)(3.0 * RATE);
        add_sender(rng, x + at, at + length <= n ? length : n - at, RATE, &sender);
    }
    add_hum(rng, x, n, RATE, &hum);
    add_noise(rng, x, n, 1e-4);
}

struct live {
    double cpu_s, sound_s, first_mb, last_mb;
};

/* Blocks of 10 ms, a snapshot 20 times a second: what the program's worker does. Rounds of an hour, hands free. */
static bool run_live(const float *x, size_t n, int minutes, struct live *live)
{
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    struct thrum_round_config config = {
        .listener = {.rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .bar = true},
        .pick = thrum_pick_config_default(),
        .hands_free = true};
    struct thrum_round *round = NULL;
    enum { BLOCK = 480 };
    config.listener.voice[0] = thrum_voice_beep(1037.0, 0.25, 0.25);
    bool ok = snapshot && !thrum_round_create(&config, &round);
    if (ok)
        thrum_snapshot_reserve(snapshot);
    double began = cpu_s();
    for (int minute = 0; ok && minute < minutes; minute++) {
        for (size_t at = 0; at + BLOCK <= n; at += BLOCK) {
            thrum_round_feed(round, x + at, BLOCK);
            if (at % (5 * BLOCK) == 0)
                thrum_round_snapshot(round, snapshot);
        }
        if (minute == 0)
            live->first_mb = memory_mb();
    }
    live->cpu_s = cpu_s() - began;
    live->sound_s = (double)minutes * (double)n / RATE;
    live->last_mb = memory_mb();
    thrum_round_destroy(round);
    free(snapshot);
    return ok;
}

void bench_live(bool full, uint64_t seed)
{
    size_t n = (size_t)(60.0 * RATE);
    float *x = malloc(n * sizeof *x);
    struct rng rng = rng_seeded(seed + 700000000u);
    struct live live = {0};
    if (!x)
        exit(1);
    make_minute(&rng, x, n);
    if (!run_live(x, n, full ? 10 : 1, &live))
        exit(1);
    bench_at_most("M13", "live round at 48 kHz, bar and touches: % of one core",
                  100.0 * live.cpu_s / live.sound_s, 3.0, (struct bench_sample){(long)live.sound_s, 0.0});
    bench_remark(
        "processor time, 10 ms blocks, 20 snapshots a second; the sound input's polling is not in it");
    if (full) {
        if (!run_live(x, n, 480, &live))
            exit(1);
        bench_at_most("M13", "growth over 8 h of sound, MB", live.last_mb - live.first_mb, 0.5,
                      (struct bench_sample){(long)live.sound_s, 0.0});
        bench_note("M13", "the same 8 h: % of one core", 100.0 * live.cpu_s / live.sound_s,
                   (struct bench_sample){(long)live.sound_s, 0.0});
    }
    free(x);
}

void bench_transform(bool full, uint64_t seed)
{
    enum { SIZE = 8000 };
    int times = full ? 20000 : 2000;
    struct rng rng = rng_seeded(seed);
    struct thrum_spectrum *spectrum;
    float *x = fftwf_alloc_real(SIZE);
    struct thrum_bin *bins = malloc((SIZE / 2 + 1) * sizeof *bins);
    fftwf_complex *out = fftwf_alloc_complex(SIZE / 2 + 1);
    if (!x || !bins || !out || thrum_spectrum_create(SIZE, &spectrum))
        exit(1);
    fftwf_plan plan = fftwf_plan_dft_r2c_1d(SIZE, x, out, FFTW_MEASURE);
    for (int i = 0; i < SIZE; i++)
        x[i] = (float)rng_normal(&rng);
    double t0 = cpu_s();
    for (int i = 0; i < times; i++)
        thrum_spectrum_forward(spectrum, x, bins);
    double t1 = cpu_s();
    for (int i = 0; i < times; i++)
        fftwf_execute(plan);
    double t2 = cpu_s();
    bench_note("FFT", "transform of 8000 samples: time over FFTW's", (t1 - t0) / (t2 - t1),
               (struct bench_sample){times, 0.0});
    fftwf_destroy_plan(plan);
    fftwf_free(x);
    fftwf_free(out);
    free(bins);
    thrum_spectrum_destroy(spectrum);
}
