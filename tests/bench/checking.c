#include "checking.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/check_facts.h"
#include "processing.h"
#include "rows.h"
#include "signal/trust.h"
#include "signals.h"
#include "thrum/units.h"
#include "touch.h"

#define CHECK_RATE 8000.0
#define RATE       48000.0
enum { CHECK = 80000, TOUCH = 4 * 48000, HOLE = 256, HOLES = 3 };

/* A sender, any cadence from 0.1 to 0.5 s, in a hand that wobbles; hum between these two over it; noise. Returns the strength. */
static double make(struct rng *rng, double rate, size_t n, double low_db, double high_db, float *x,
                   struct thrum_voice *voice)
{
    double on = 0.1 * pow(5.0, rng_uniform(rng)), off = 0.1 * pow(5.0, rng_uniform(rng));
    struct sender sender = {.dbfs = rng_between(rng, -35, -15),
                            .start_s = rng_uniform(rng),
                            .offset_hz = rng_between(rng, -1, 1),
                            .wobble_db = rng_between(rng, 0.3, 1.5),
                            .square = rng_uniform(rng) < 0.4};
    struct hum hum = {.hz = (rng_uniform(rng) < 0.5 ? 50 : 60) + rng_between(rng, -0.1, 0.1),
                      .wander_hz = 0.02,
                      .harmonics = 60,
                      .dbfs = fmin(sender.dbfs + rng_between(rng, low_db, high_db), -10.0),
                      .wobble_db = rng_between(rng, 0.3, 1.5)};
    *voice = thrum_voice_beep(rng_between(rng, 320, 3000), on, off);
    sender.voice = *voice;
    memset(x, 0, n * sizeof *x);
    double truth = add_sender(rng, x, n, rate, &sender);
    add_hum(rng, x, n, rate, &hum);
    add_noise(rng, x, n, 1e-5 * pow(56.0, rng_uniform(rng)));
    return truth;
}

static double mean_dbfs(const float *x, size_t n)
{
    double power = 0.0;
    for (size_t i = 0; i < n; i++)
        power += (double)x[i] * (double)x[i];
    return thrum_db_from_power(2.0 * power / (double)n);
}

/* So many seconds held still at one place: verdicts counted. */
static void check_places(long trials, uint64_t seed, bool control, long verdicts[3])
{
    float *x = malloc(CHECK * sizeof *x);
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 720000000u + (uint64_t)t);
        struct thrum_voice voice;
        struct check_facts facts;
        make(&rng, CHECK_RATE, CHECK, -40.0, 0.0, x, &voice);
        struct level_control any = {.attack_s = 0.001 * pow(50.0, rng_uniform(&rng)),
                                    .release_s = 0.1 * pow(30.0, rng_uniform(&rng)),
                                    .ratio = 2.0 * pow(10.0, rng_uniform(&rng)),
                                    .most_gain_db = 60.0,
                                    .target_dbfs = mean_dbfs(x, CHECK)};
        if (control)
            apply_level_control(x, CHECK, CHECK_RATE, &any);
        struct check_sound sound = {
            .info = {.name = "bench", .rate_hz = CHECK_RATE, .channels = 1}, .samples = x, .frames = CHECK};
        if (!check_look(&sound, &facts))
            verdicts[facts.verdict]++;
    }
    free(x);
}

static void note_share(const char *figure, const char *what, long hits, long n)
{
    double share = (double)hits / (double)n;
    bench_note(figure, what, 100.0 * share, (struct bench_sample){n, 100.0 * bench_share_error(share, n)});
}

void bench_checking(bool full, uint64_t seed)
{
    long trials = full ? 300 : 12, good[3] = {0}, bad[3] = {0};
    check_places(trials, seed, false, good);
    check_places(trials, seed, true, bad);
    double share = (double)good[CHECK_NOT_TRUSTED] / (double)trials;
    bench_at_most("T1", "checks at one place of a good input: not to be trusted, in 100", 100.0 * share, 1.0,
                  (struct bench_sample){trials, 100.0 * bench_share_error(share, trials)});
    note_share("T1", "the same: TRUSTED, %", good[CHECK_TRUSTED], trials);
    note_share("T3", "checks at one place through a level control: not to be trusted, %",
               bad[CHECK_NOT_TRUSTED], trials);
    note_share("T3", "the same: TRUSTED all the same, %", bad[CHECK_TRUSTED], trials);
}

/* An amplifier clips at half or a tenth of full scale; then come up to 0.03 % of that in noise, and 16 bits. */
static void clip(struct rng *rng, float *x, size_t n, double rail, double over_db)
{
    double peak = 0.0;
    for (size_t i = 0; i < n; i++)
        peak = fmax(peak, fabs((double)x[i]));
    double gain = rail / peak * thrum_amplitude_from_db(over_db);
    for (size_t i = 0; i < n; i++)
        x[i] = (float)fmax(-rail, fmin(rail, gain * (double)x[i]));
    add_noise(rng, x, n, 3e-4 * rail * rng_uniform(rng));
    for (size_t i = 0; i < n; i++)
        x[i] = (float)(nearbyint(32768.0 * (double)x[i]) / 32768.0);
}

static long clipped(long trials, uint64_t seed, double over_db)
{
    float *x = malloc(TOUCH * sizeof *x);
    long told = 0;
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 730000000u + (uint64_t)t);
        struct thrum_voice voice;
        struct thrum_trust *trust;
        struct thrum_trust_report report;
        make(&rng, RATE, TOUCH, -40.0, 30.0, x, &voice);
        clip(&rng, x, TOUCH, t % 2 ? 0.5 : 0.1, over_db);
        if (thrum_trust_create(RATE, 1, &trust))
            break;
        thrum_trust_feed(trust, x, TOUCH);
        thrum_trust_report(trust, 0, TOUCH, 0, &report);
        told += (report.faults & THRUM_FAULT_CLIPPED) != 0;
        thrum_trust_destroy(trust);
    }
    free(x);
    return told;
}

void bench_clipping(bool full, uint64_t seed)
{
    long trials = full ? 1000 : 100, none = clipped(trials, seed, 0.0);
    double share = (double)none / (double)trials;
    bench_at_most("T4", "touches just not clipped: called clipped, in 100", 100.0 * share, 1.0,
                  (struct bench_sample){trials, 100.0 * bench_share_error(share, trials)});
    note_share("T4", "clipped 1 dB before full scale, noise after it: told, %", clipped(trials, seed, 1.0),
               trials);
    note_share("T4", "the same, 3 dB", clipped(trials, seed, 3.0), trials);
    note_share("T4", "the same, 6 dB", clipped(trials, seed, 6.0), trials);
}

enum losing { LOSE_NOTHING, LOSE_ZEROED, LOSE_REPEATED, LOSE_CUT };

struct lost {
    long heard, told, within;
    double squares;
};

/* Three stretches are zeroed, come twice, or are cut out. Returns the frames left; x has room for them all. */
static size_t lose(struct rng *rng, float *x, enum losing how)
{
    size_t n = TOUCH;
    for (int i = 0; i < HOLES; i++) {
        size_t at = (size_t)(RATE * rng_between(rng, 0.3, 3.5));
        if (how == LOSE_ZEROED)
            memset(x + at, 0, HOLE * sizeof *x);
        if (how == LOSE_REPEATED) {
            memmove(x + at + HOLE, x + at, (n - at) * sizeof *x);
            n += HOLE;
        }
        if (how == LOSE_CUT) {
            n -= HOLE;
            memmove(x + at, x + at + HOLE, (n - at) * sizeof *x);
        }
    }
    return n;
}

static struct lost lose_in_touches(long trials, uint64_t seed, enum losing how)
{
    float *x = malloc((TOUCH + HOLES * HOLE) * sizeof *x);
    struct lost lost = {0};
    for (long t = 0; x && t < trials; t++) {
        struct rng rng = rng_seeded(seed * 1000000007u + 740000000u + (uint64_t)t);
        struct thrum_voice voice;
        struct thrum_reading reading;
        double truth = make(&rng, RATE, TOUCH, -20.0, 20.0, x, &voice);
        for (size_t i = 0; i < TOUCH; i++)
            x[i] = (float)(nearbyint(32768.0 * (double)x[i]) / 32768.0);
        size_t n = lose(&rng, x, how);
        if (!sound_measure(x, n, RATE, &voice, 1, &reading) || !reading.strength[0].heard)
            continue;
        double error = reading.strength[0].dbfs - truth;
        lost.heard++;
        lost.told += (reading.faults & THRUM_FAULT_LOST) != 0;
        lost.within += reading.strength[0].low_db <= truth && truth <= reading.strength[0].high_db;
        lost.squares += error * error;
    }
    free(x);
    return lost;
}

void bench_losing(bool full, uint64_t seed)
{
    static const char *const names[] = {"touches with nothing lost", "3 times 256 frames zeroed",
                                        "3 times 256 frames twice", "3 times 256 frames cut out, untold"};
    long trials = full ? 400 : 40;
    for (int how = LOSE_NOTHING; how <= LOSE_CUT; how++) {
        struct lost lost = lose_in_touches(trials, seed, (enum losing)how);
        char what[100];
        double n = (double)lost.heard;
        snprintf(what, sizeof what, "%s: called lost, %%", names[how]);
        note_share("T5", what, lost.told, lost.heard);
        snprintf(what, sizeof what, "%s: truth within the interval, %%", names[how]);
        note_share("T5", what, lost.within, lost.heard);
        snprintf(what, sizeof what, "%s: RMS error, dB", names[how]);
        bench_note("T5", what, sqrt(lost.squares / n), (struct bench_sample){lost.heard, 0.0});
    }
}
