#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "learned_from.h"
#include "signals.h"
#include "thrum/learn.h"
#include "thrum/units.h"

#define LEVEL (-25.0)

/* What is no voice. Every case with several seeds; a case may be more than one thing, then the mask says so. */
#define MAY(what) (1u << (what))

static void check_refused(const float *x, size_t n, unsigned may_be, const char *name)
{
    struct thrum_learned learned = learned_from(x, n, 48000.0, 1);
    if (!(MAY(learned.what) & may_be)) {
        print_error("%s taken for: %s (%.1f Hz, %d steps, %.3f %.3f, %.1f dB)\n", name,
                    thrum_not_voice_text(learned.what), learned.voice.tones_hz[0], learned.voice.n_steps,
                    learned.voice.step[0].s, learned.voice.step[1].s, learned.quality_db);
        fail();
    }
    if (learned.what != THRUM_VOICE_FOUND)
        assert_int_equal(learned.voice.n_tones, 0);
}

static void silence_is_told_from_noise_in_the_last_bit(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    struct rng rng = rng_seeded(201);
    check_refused(x, n, MAY(THRUM_NOT_SILENCE), "zeros");
    for (size_t i = 0; i < n; i++)
        x[i] = 0.2f;
    check_refused(x, n, MAY(THRUM_NOT_SILENCE), "a constant");
    for (size_t i = 0; i < n; i++)
        x[i] = rng_uniform(&rng) < 0.5 ? 1.0f / 32768.0f : -1.0f / 32768.0f;
    check_refused(x, n, MAY(THRUM_NOT_NOISE), "one bit");
    free(x);
}

static void noise_and_hum_are_refused(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    for (uint64_t seed = 211; seed < 215; seed++) {
        struct rng rng = rng_seeded(seed);
        memset(x, 0, n * sizeof *x);
        add_noise(&rng, x, n, 0.01);
        check_refused(x, n, MAY(THRUM_NOT_NOISE), "white noise");
        double slow = 0.0;
        for (size_t i = 0; i < n; i++) {
            slow = 0.9995 * slow + 0.002 * rng_normal(&rng);
            x[i] = (float)slow;
        }
        check_refused(x, n, MAY(THRUM_NOT_NOISE), "brown noise");
        memset(x, 0, n * sizeof *x);
        struct hum hum = {.hz = seed % 2 ? 50.03 : 61.5,
                          .slope_hz_s = seed % 2 ? 0.0 : 0.05,
                          .harmonics = 60,
                          .dbfs = -20.0,
                          .wander_hz = 0.02,
                          .wobble_db = 1.0};
        add_hum(&rng, x, n, 48000.0, &hum);
        add_noise(&rng, x, n, 0.001);
        check_refused(x, n, MAY(THRUM_NOT_HUM), "hum");
    }
    free(x);
}

/* Of both together, as they come where a generator stands by. */
static void add_two_mains(struct rng *rng, float *x, size_t n, double other_hz)
{
    struct hum site = {.hz = 50.02,
                       .harmonics = 60,
                       .dbfs = LEVEL,
                       .wander_hz = 0.02,
                       .wobble_db = rng_between(rng, 0.3, 1.2)};
    struct hum generator = site;
    site.hz += other_hz > 58.0 && other_hz < 62.5 && rng_uniform(rng) < 0.5 ? 10.0 : 0.0;
    generator.hz = other_hz;
    generator.dbfs += rng_between(rng, -12.0, 12.0);
    add_hum(rng, x, n, 8000.0, &site);
    add_hum(rng, x, n, 8000.0, &generator);
    add_noise(rng, x, n, 0.001);
}

/* Their lines beat, and a beat keeps time; a sender under them is learned all the same. */
static void two_mains_are_no_sender(void **state)
{
    (void)state;
    const double other_hz[] = {61.5, 58.3, 61.2, 50.9};
    const struct thrum_voice voice[] = {thrum_voice_beep(1037, 0.25, 0.25), thrum_voice_beep(603, 0.12, 0.09),
                                        thrum_voice_beep(1480, 0.7, 0.5)};
    size_t n;
    int said = 0;
    float *x = learned_room(8000.0, 8.0, &n);
    for (uint64_t i = 0; i < 24; i++) {
        struct rng rng = rng_seeded(900 + i);
        memset(x, 0, n * sizeof *x);
        add_two_mains(&rng, x, n, other_hz[i % 4]);
        struct thrum_learned learned = learned_from(x, n, 8000.0, 1);
        if (learned.what == THRUM_VOICE_FOUND)
            print_error("two mains taken for a sender: %d\n", (int)i);
        assert_int_not_equal(learned.what, THRUM_VOICE_FOUND);
        said += learned.what == THRUM_NOT_HUM;
        struct sender sender = {
            .voice = voice[i % 3], .dbfs = LEVEL + 3.0, .start_s = 0.3 * rng_uniform(&rng)};
        add_sender(&rng, x, n, 8000.0, &sender);
        learned = learned_from(x, n, 8000.0, 1);
        if (learned.what != THRUM_VOICE_FOUND)
            print_error("under two mains, %d: %s\n", (int)i, thrum_not_voice_text(learned.what));
        assert_int_equal(learned.what, THRUM_VOICE_FOUND);
        assert_close(learned.voice.tones_hz[0], voice[i % 3].tones_hz[0], 0.2);
        assert_int_equal(learned.voice.n_steps, 2);
    }
    print_message("said to be hum: %d of 24\n", said);
    assert_true(said >= 16);
    free(x);
}

static void add_clicks(struct rng *rng, float *x, size_t n, double least_s, double most_s)
{
    for (size_t i = 0; i < n; i += (size_t)(48000.0 * rng_between(rng, least_s, most_s)))
        for (size_t k = 0; k < 200 && i + k < n; k++)
            x[i + k] += (float)(0.3 * exp(-(double)k / 30.0) * sin(0.4 * (double)k));
}

static void clicks_are_refused(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    const double every[][2] = {{0.01, 0.01}, {0.5, 0.5}, {0.2, 0.7}};
    for (int i = 0; i < 3; i++) {
        struct rng rng = rng_seeded(221u + (uint64_t)i);
        memset(x, 0, n * sizeof *x);
        add_noise(&rng, x, n, 0.0005);
        add_clicks(&rng, x, n, every[i][0], every[i][1]);
        check_refused(x, n, MAY(THRUM_NOT_CLICKS), "clicks");
    }
    free(x);
}

static void sirens_are_refused(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    for (int i = 0; i < 6; i++) {
        struct rng rng = rng_seeded(231u + (uint64_t)i);
        double phase = 0.0, rate = i < 4 ? 0.5 : 3.0, start = rng_uniform(&rng);
        for (size_t k = 0; k < n; k++) {
            double turn = sin(2.0 * THRUM_PI * rate * ((double)k / 48000.0 + start));
            double hz = 1000.0 + 400.0 * (i % 2 ? turn : asin(turn) * 2.0 / THRUM_PI); /* 600 to 1400 Hz */
            phase += 2.0 * THRUM_PI * hz / 48000.0;
            x[k] = (float)(0.1 * sin(phase));
        }
        add_noise(&rng, x, n, 0.001);
        /* at three sweeps a second no window holds a line */
        check_refused(x, n, i < 4 ? MAY(THRUM_NOT_SWEEPING) : ~MAY(THRUM_VOICE_FOUND), "siren");
    }
    free(x);
}

/* Pulses of wandering pitch through two wandering resonances, in syllables of uneven length. */
static void add_speech(struct rng *rng, float *x, size_t n)
{
    double a1 = 0, a2 = 0, b1 = 0, b2 = 0, next = 0, pitch = 120, until = 0, loud = 1, low = 600, high = 1400;
    double ra = exp(-THRUM_PI * 80.0 / 48000.0), rb = exp(-THRUM_PI * 110.0 / 48000.0);
    for (size_t i = 0; i < n; i++) {
        double t = (double)i / 48000.0, pulse = 0.0;
        if (t > until) {
            until = t + rng_between(rng, 0.06, 0.3);
            loud = rng_uniform(rng) < 0.75 ? rng_between(rng, 0.3, 1.0) : 0.0;
            low = rng_between(rng, 300, 800);
            high = rng_between(rng, 900, 2300);
            pitch = rng_between(rng, 90, 220);
        }
        if (t >= next) {
            next = t + 1.0 / pitch;
            pulse = loud;
        }
        double a = 2.0 * ra * cos(2.0 * THRUM_PI * low / 48000.0) * a1 - ra * ra * a2 + pulse;
        double b = 2.0 * rb * cos(2.0 * THRUM_PI * high / 48000.0) * b1 - rb * rb * b2 + pulse;
        a2 = a1;
        a1 = a;
        b2 = b1;
        b1 = b;
        x[i] += (float)(0.01 * (a + 0.5 * b));
    }
}

/* Notes of a scale with harmonics, each struck and ringing on. */
static void add_music(struct rng *rng, float *x, size_t n)
{
    for (double t = 0.0; t < 6.0;) {
        double length = 0.12 * (1 + (int)(rng_uniform(rng) * 4.0)),
               hz = 330.0 * pow(2.0, (int)(rng_uniform(rng) * 18.0) / 12.0);
        for (size_t i = (size_t)(t * 48000.0); i < n && i < (size_t)((t + 1.5 * length) * 48000.0); i++) {
            double u = (double)i / 48000.0 - t, w = 2.0 * THRUM_PI * hz * u;
            x[i] += (float)(0.1 * exp(-3.0 * u) * fmin(u / 0.01, 1.0) *
                            (sin(w) + 0.5 * sin(2 * w) + 0.3 * sin(3 * w)));
        }
        t += length;
    }
}

static void speech_and_music_are_refused(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    for (uint64_t seed = 241; seed < 251; seed++) {
        struct rng rng = rng_seeded(seed);
        memset(x, 0, n * sizeof *x);
        add_speech(&rng, x, n);
        add_noise(&rng, x, n, 0.0003);
        check_refused(x, n, MAY(THRUM_NOT_IRREGULAR) | MAY(THRUM_NOT_ENOUGH), "speech");
        memset(x, 0, n * sizeof *x);
        add_music(&rng, x, n);
        add_noise(&rng, x, n, 0.0003);
        check_refused(x, n, MAY(THRUM_NOT_IRREGULAR) | MAY(THRUM_NOT_ENOUGH), "music");
    }
    free(x);
}

/* Letters drawn at random from a code of short and long beeps, 60 and 180 ms; and bits of 30 ms on two tones. */
static void keyed_tones_without_a_pattern_are_told_from_music(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 8.0, &n);
    for (uint64_t seed = 271; seed < 275; seed++) {
        struct rng rng = rng_seeded(seed);
        memset(x, 0, n * sizeof *x);
        for (double t = 0.1; t < 7.5;) {
            double s = rng_uniform(&rng) < 0.5 ? 0.06 : 0.18;
            for (size_t i = (size_t)(t * 48000.0); i < (size_t)((t + s) * 48000.0); i++)
                x[i] = (float)(0.1 * sin(2.0 * THRUM_PI * 800.0 * (double)i / 48000.0));
            t += s + (rng_uniform(&rng) < 0.6 ? 0.06 : 0.18);
        }
        add_noise(&rng, x, n, 0.003);
        check_refused(x, n, MAY(THRUM_NOT_DATA), "Morse");
        memset(x, 0, n * sizeof *x);
        double phase = 0.0, hz = 1750.0;
        for (size_t i = 0; i < n; i++) {
            if (i % 1440 == 0)
                hz = rng_uniform(&rng) < 0.5 ? 1750.0 : 2200.0;
            phase += 2.0 * THRUM_PI * hz / 48000.0;
            x[i] = (float)(0.1 * sin(phase));
        }
        add_noise(&rng, x, n, 0.003);
        check_refused(x, n, MAY(THRUM_NOT_DATA) | MAY(THRUM_NOT_TOO_FAST), "data");
    }
    free(x);
}

/* Hum that a loose contact turns into lines beside its harmonics, 100 Hz apart: no sender's steady tone. */
static void hum_beside_its_harmonics_is_hum(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 7.0, &n);
    for (uint64_t seed = 281; seed < 285; seed++) {
        struct rng rng = rng_seeded(seed);
        double mains = rng_between(&rng, 49.5, 50.5), off = rng_between(&rng, 8.0, 40.0);
        struct hum hum = {.hz = mains, .harmonics = 9, .dbfs = -17.0, .wander_hz = 0.005};
        memset(x, 0, n * sizeof *x);
        add_hum(&rng, x, n, 48000.0, &hum);
        for (int k = 0; k < 5; k++) {
            double level = thrum_amplitude_from_db(-38.0 - 5.0 * abs(k - 2)), hz = (10 + 2 * k) * mains + off;
            for (size_t i = 0; i < n; i++)
                x[i] += (float)(level * sin(2.0 * THRUM_PI * hz * (double)i / 48000.0));
        }
        add_noise(&rng, x, n, 0.001);
        check_refused(x, n, MAY(THRUM_NOT_HUM), "hum of a loose contact");
    }
    free(x);
}

static void too_fast_and_too_short_are_said(void **state)
{
    (void)state;
    size_t n;
    float *x = learned_room(48000.0, 6.0, &n);
    struct rng rng = rng_seeded(261);
    struct sender fast = {.voice = thrum_voice_beep(1000.0, 0.025, 0.025), .dbfs = LEVEL};
    add_sender(&rng, x, n, 48000.0, &fast);
    add_noise(&rng, x, n, 0.001);
    check_refused(x, n, MAY(THRUM_NOT_TOO_FAST), "25/25 ms");
    memset(x, 0, n * sizeof *x);
    struct sender slow = {.voice = thrum_voice_beep(1000.0, 2.0, 2.0), .dbfs = LEVEL, .start_s = 0.5};
    add_sender(&rng, x, n, 48000.0, &slow);
    add_noise(&rng, x, n, 0.001);
    check_refused(x, 3 * 48000, MAY(THRUM_NOT_ENOUGH), "3 s of 2/2 s");
    check_refused(x, 40000, MAY(THRUM_NOT_ENOUGH), "0.8 s");
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silence_is_told_from_noise_in_the_last_bit),
        cmocka_unit_test(noise_and_hum_are_refused),
        cmocka_unit_test(two_mains_are_no_sender),
        cmocka_unit_test(clicks_are_refused),
        cmocka_unit_test(sirens_are_refused),
        cmocka_unit_test(speech_and_music_are_refused),
        cmocka_unit_test(keyed_tones_without_a_pattern_are_told_from_music),
        cmocka_unit_test(hum_beside_its_harmonics_is_hum),
        cmocka_unit_test(too_fast_and_too_short_are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
