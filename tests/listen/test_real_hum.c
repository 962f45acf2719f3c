/* Mixes: real hum with a sender of known strength added. Limits are those for simulated hum, or what the recording's own noise
 * allows where that is more. The loose connection hums 3.7 Hz below its harmonics too: tones near those are not among the mixes,
 * as one on such a line is off by 0.7 dB. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "noise_floor.h"
#include "real_sound.h"
#include "signals.h"
#include "thrum/units.h"

#define TOUCH_S 3.0

/* The fundamentals that the recordings' list of contents gives. */
struct hum_file {
    const char *name;
    double mains_hz;
    int mixed; /* at so many of the places below */
};

static const struct hum_file files[] = {{"hum/hum60_vhs.flac", 60.0, 3},
                                        {"hum/hum60_outdoor_aru_strong.wav", 60.011, 3},
                                        {"hum/hum_loose_connection_49.54Hz.flac", 49.541, 1},
                                        {"hum/hum50_washing_machine.flac", 49.976, 0},
                                        {"hum/hum50_dough_machine.flac", 49.995, 0}};

/* What a tone does among the harmonics, and how exactly it must be measured there. */
struct place {
    double off_hz, limit_db;
};

struct errors {
    double square, bound_square;
    int made, heard, held;
};

static double mean_square(const float *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return sum / (double)n;
}

/* One mix: the recording's sound below x, hum_db over the tone. */
static void mix(struct rng *rng, const float *hum, size_t n, double rate_hz, double tone_hz, double hum_db,
                struct errors *errors)
{
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    memcpy(x, hum, n * sizeof *x);
    struct sender sender = {.voice = thrum_voice_beep(tone_hz, 0.25, 0.25),
                            .dbfs = thrum_db_from_power(2.0 * mean_square(hum, n)) - hum_db,
                            .start_s = 0.5 * rng_uniform(rng)};
    double truth = add_sender(rng, x, n, rate_hz, &sender);
    double bound = cramer_rao_db(truth, 0.5 * TOUCH_S, noise_density(hum, n, rate_hz, tone_hz));
    struct thrum_reading reading = real_measure(x, n, rate_hz, &sender.voice, 1);
    const struct thrum_strength *strength = &reading.strength[0];
    free(x);
    errors->made++;
    errors->bound_square += bound * bound;
    if (!strength->heard)
        return;
    errors->heard++;
    errors->square += (strength->dbfs - truth) * (strength->dbfs - truth);
    errors->held += truth >= strength->low_db && truth <= strength->high_db;
}

/* Four mixes in each touch of a recording; touches overlap by half. */
static struct errors mix_all(const struct hum_file *file, double off_hz, double hum_db, uint64_t seed)
{
    struct real_sound sound = real_read(real_folder(), file->name, 0.0, 60.0, true);
    struct rng rng = rng_seeded(seed);
    struct errors errors = {0};
    size_t n = (size_t)(TOUCH_S * sound.rate_hz);
    for (size_t at = 0; at + n <= sound.n; at += n / 2)
        for (int i = 0; i < 4; i++) {
            int harmonic = 8 + (int)(15.0 * rng_uniform(&rng));
            mix(&rng, sound.x + at, n, sound.rate_hz, harmonic * file->mains_hz + (i % 2 ? -off_hz : off_hz),
                hum_db, &errors);
        }
    free(sound.x);
    return errors;
}

static void tones_in_real_hum_are_measured_to_the_limit(void **state)
{
    (void)state;
    static const struct place places[] = {{13.0, 0.10}, {3.5, 0.10}, {0.0, 0.30}};
    for (size_t f = 0; f < sizeof files / sizeof *files; f++)
        for (int p = 0; p < files[f].mixed; p++) {
            struct errors e =
                mix_all(&files[f], places[p].off_hz, 20.0, 7400 + 10 * (uint64_t)f + (uint64_t)p);
            double rms = sqrt(e.square / e.heard), bound = sqrt(e.bound_square / e.made);
            print_message(
                "%s, tone %.1f Hz off: %d of %d heard, RMS error %.3f dB, Cramer-Rao %.3f dB, %d held\n",
                files[f].name, places[p].off_hz, e.heard, e.made, rms, bound, e.held);
            assert_true(e.heard >= e.made * 3 / 4);
            assert_true(rms <= fmax(places[p].limit_db, 1.1 * bound));
            assert_true(e.held >= e.heard * 3 / 4);
        }
}

/* Ten seconds, or what there is of them. */
static void the_mains_of_recordings_are_found(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1037.0, 0.25, 0.25);
    for (size_t f = 0; f < sizeof files / sizeof *files; f++) {
        struct real_sound sound = real_read(real_folder(), files[f].name, 0.0, 10.0, true);
        struct thrum_reading reading = real_measure(sound.x, sound.n, sound.rate_hz, &voice, 1);
        free(sound.x);
        print_message("%s: %.4f Hz\n", files[f].name, reading.mains_hz);
        assert_close(reading.mains_hz, files[f].mains_hz, 0.01);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_in_real_hum_are_measured_to_the_limit),
        cmocka_unit_test(the_mains_of_recordings_are_found),
    };
    return real_folder() ? cmocka_run_group_tests(tests, NULL, NULL) : REAL_SKIPPED;
}
