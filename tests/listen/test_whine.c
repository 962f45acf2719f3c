/* A steady sound beside the sender's tone that is no mains: a machine's whine, another sender that never pauses. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "real_sound.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, LENGTH = 3 * RATE, TOUCHES = 20 };
#define TONE_DBFS (-52.0)

struct outcome {
    int heard, held;
    double worst_db;
};

/* Touches of a sender under hum 20 dB over it, and a whine so far from its tone, so much louder. */
static struct outcome touch_beside(double off_hz, double up_db)
{
    struct outcome outcome = {0};
    float *x = malloc(LENGTH * sizeof *x);
    assert_non_null(x);
    for (int t = 0; t < TOUCHES; t++) {
        struct rng rng = rng_seeded(9100 + (uint64_t)t);
        double tone_hz = rng_between(&rng, 500.0, 1500.0), whine_hz = tone_hz + (t % 2 ? -off_hz : off_hz);
        struct sender sender = {.voice = thrum_voice_beep(tone_hz, 0.25, 0.25),
                                .dbfs = TONE_DBFS,
                                .start_s = 0.5 * rng_uniform(&rng)};
        struct hum hum = {.hz = 50.0 + rng_between(&rng, -0.1, 0.1),
                          .wander_hz = 0.02,
                          .harmonics = 60,
                          .dbfs = TONE_DBFS + 20.0,
                          .wobble_db = 1.0};
        double amplitude = thrum_amplitude_from_db(TONE_DBFS + up_db),
               phase = 2.0 * THRUM_PI * rng_uniform(&rng);
        for (int i = 0; i < LENGTH; i++)
            x[i] = (float)(amplitude * cos(phase + 2.0 * THRUM_PI * whine_hz * i / RATE));
        double truth = add_sender(&rng, x, LENGTH, RATE, &sender);
        add_noise(&rng, x, LENGTH, 1e-4);
        add_hum(&rng, x, LENGTH, RATE, &hum);
        struct thrum_reading reading = real_measure(x, LENGTH, RATE, &sender.voice, 1);
        const struct thrum_strength *strength = &reading.strength[0];
        if (!strength->heard)
            continue;
        outcome.heard++;
        outcome.held += truth >= strength->low_db && truth <= strength->high_db;
        outcome.worst_db = fmax(outcome.worst_db, fabs(strength->dbfs - truth));
    }
    free(x);
    return outcome;
}

/* Nine in ten are asked for: a whine may lie on a harmonic of the hum as well, or right beside one. */
static void a_sender_is_measured_beside_a_whine(void **state)
{
    (void)state;
    static const double off_hz[] = {17.0, 33.0, 50.0, 80.0};
    for (int up_db = 0; up_db <= 30; up_db += 10)
        for (size_t i = 0; i < sizeof off_hz / sizeof *off_hz; i++) {
            struct outcome o = touch_beside(off_hz[i], up_db);
            print_message("whine %+d dB, %.0f Hz off: %d of %d heard, %d held, worst %.3f dB\n", up_db,
                          off_hz[i], o.heard, TOUCHES, o.held, o.worst_db);
            assert_true(10 * o.heard >= 9 * TOUCHES);
            assert_true(4 * o.held >= 3 * TOUCHES);
        }
}

/* The oscillator runs on through the pauses: what it sends is nothing but steady lines, 1 / cycle apart. */
static void check_running_on(struct thrum_voice voice, double most_db)
{
    float *x = malloc(LENGTH * sizeof *x);
    assert_non_null(x);
    for (int t = 0; t < 6; t++) {
        struct rng rng = rng_seeded(9200 + (uint64_t)t);
        double factor = rng_between(&rng, 0.7, 1.4);
        for (int k = 0; k < voice.n_tones; k++)
            voice.tones_hz[k] *= factor;
        struct sender sender = {.voice = voice,
                                .dbfs = TONE_DBFS,
                                .start_s = thrum_voice_cycle_s(&voice) * rng_uniform(&rng),
                                .keep_phase = 1};
        for (int k = 0; k < voice.n_tones; k++)
            voice.tones_hz[k] /= factor;
        memset(x, 0, LENGTH * sizeof *x);
        double truth = add_sender(&rng, x, LENGTH, RATE, &sender);
        add_noise(&rng, x, LENGTH, 1e-4);
        struct thrum_reading reading = real_measure(x, LENGTH, RATE, &sender.voice, 1);
        assert_true(reading.strength[0].heard);
        assert_close(reading.strength[0].dbfs, truth, most_db);
    }
    free(x);
}

static void the_side_bands_of_a_sender_that_runs_on_are_no_whines(void **state)
{
    (void)state;
    struct thrum_voice two = {.name = "a", .n_tones = 2, .tones_hz = {1000.0, 1300.0}, .n_steps = 2};
    two.step[0] = (struct thrum_voice_step){0, 0.03};
    two.step[1] = (struct thrum_voice_step){1, 0.033};
    check_running_on(two, 0.9); /* 17 dB too little when they are taken for whines */
    check_running_on(thrum_voice_beep(1000.0, 0.04, 0.04), 0.15);
    check_running_on(thrum_voice_beep(1000.0, 0.1, 0.1), 0.1);
}

/* How many of the touches hear a tone with another cadence, and how many the sender: a steady sound so far from the voice's tone, so
 * loud, under hum 10 dB over it. */
static int told_steady(double off_hz, double dbfs, int *heard)
{
    int told = 0;
    float *x = malloc(LENGTH * sizeof *x);
    assert_non_null(x);
    *heard = 0;
    for (int t = 0; t < TOUCHES; t++) {
        struct rng rng = rng_seeded(9200 + (uint64_t)t);
        double tone_hz = 50.0 * (10 + t) + rng_between(&rng, 10.0, 40.0);
        struct thrum_voice voice = thrum_voice_beep(tone_hz, 0.25, 0.25);
        struct hum hum = {.hz = 50.0, .wander_hz = 0.02, .harmonics = 60, .dbfs = -42.0, .wobble_db = 1.0};
        double amplitude = thrum_amplitude_from_db(dbfs), phase = 2.0 * THRUM_PI * rng_uniform(&rng);
        for (int i = 0; i < LENGTH; i++)
            x[i] = (float)(amplitude * cos(phase + 2.0 * THRUM_PI * (tone_hz + off_hz) * i / RATE));
        add_noise(&rng, x, LENGTH, 1e-4);
        add_hum(&rng, x, LENGTH, RATE, &hum);
        struct thrum_reading reading = real_measure(x, LENGTH, RATE, &voice, 1);
        told += (reading.faults & THRUM_FAULT_OTHER_CADENCE) != 0;
        *heard += reading.strength[0].heard;
    }
    free(x);
    return told;
}

static void a_steady_tone_is_another_cadence_and_hum_alone_is_none(void **state)
{
    (void)state;
    int heard;
    assert_int_equal(told_steady(0.0, -52.0, &heard), TOUCHES);
    assert_int_equal(heard, 0);
    assert_int_equal(told_steady(1.5, -40.0, &heard), TOUCHES);
    assert_int_equal(heard, 0);
    assert_between(told_steady(15.0, -52.0, &heard), 0, 1); /* a whine beside it is not the tone */
    assert_int_equal(told_steady(0.0, -200.0, &heard), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sender_is_measured_beside_a_whine),
        cmocka_unit_test(the_side_bands_of_a_sender_that_runs_on_are_no_whines),
        cmocka_unit_test(a_steady_tone_is_another_cadence_and_hum_alone_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
