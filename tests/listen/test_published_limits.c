/* What a receiver of tones accepts and refuses by ITU-T Q.24 Annex A, North American column (read in a transcription): an
   offset up to 1.5 % is accepted, 3.5 % refused; a tone of 40 ms is accepted, one of 23 ms is not; a break of 10 ms is
   bridged. The tones are those of ITU-T Q.23 (read). */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "cadences.h"
#include "learned_from.h"
#include "signals.h"
#include "thrum/listen.h"
#include "thrum/units.h"

#define LEVEL (-30.0)

enum { RATE = 8000, TONES = 8 };

static const double tone_hz[TONES] = {697, 770, 852, 941, 1209, 1336, 1477, 1633};

/* A touch of 4 s with a sender off by that share of its tone. */
static struct thrum_reading heard_off(double hz, double off, uint64_t seed)
{
    static float x[4 * RATE];
    struct rng rng = rng_seeded(seed);
    struct thrum_listener_config config = {.rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1};
    struct thrum_listener *listener;
    struct thrum_reading reading;
    config.voice[0] = thrum_voice_beep(hz, 0.25, 0.25);
    struct sender sender = {
        .voice = config.voice[0], .dbfs = LEVEL, .offset_hz = off * hz, .start_s = rng_uniform(&rng) * 0.5};
    memset(x, 0, sizeof x);
    add_sender(&rng, x, 4 * RATE, RATE, &sender);
    add_noise(&rng, x, 4 * RATE, 1e-3);
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    thrum_listener_feed(listener, x, 4 * RATE);
    assert_int_equal(thrum_listener_measure(listener, (struct thrum_span){0, 4 * RATE}, &reading), THRUM_OK);
    thrum_listener_destroy(listener);
    return reading;
}

/* The learned tone is looked for within 17 Hz: 1.5 % of the five lower tones. Of the higher ones, one that has moved so far is
   found by its cadence, not by the listener; what is 3.5 % off is another sender's in any case. */
static void an_offset_is_accepted_to_1_5_and_refused_from_3_5_per_cent(void **state)
{
    (void)state;
    for (int i = 0; i < TONES; i++)
        for (int side = -1; side <= 1; side += 2) {
            double near = tone_hz[i] < 1000.0 ? 0.015 : 0.0098;
            struct thrum_reading reading = heard_off(tone_hz[i], side * near, 5000u + (uint64_t)i);
            assert_true(reading.strength[0].heard);
            assert_close(reading.strength[0].tone_hz, tone_hz[i] * (1.0 + side * near), 0.1);
            assert_close(reading.strength[0].dbfs, LEVEL, 0.1);
            assert_false(heard_off(tone_hz[i], side * 0.035, 5000u + (uint64_t)i).strength[0].heard);
        }
}

/* From 8 s of beeps, each broken from a moment in it on. */
static struct thrum_learned learned_beeps(const struct thrum_voice *voice, double break_at_s, double break_s,
                                          uint64_t seed)
{
    size_t n;
    float *x = learned_room(RATE, 8.0, &n);
    struct rng rng = rng_seeded(seed);
    struct sender sender = {.voice = *voice, .dbfs = LEVEL};
    add_sender(&rng, x, n, RATE, &sender);
    double cycle = thrum_voice_cycle_s(voice);
    for (size_t i = 0; i < n; i++) {
        double at = fmod((double)i / RATE, cycle);
        if (at >= break_at_s && at < break_at_s + break_s)
            x[i] = 0.0f;
    }
    add_noise(&rng, x, n, 1e-3);
    struct thrum_learned learned = learned_from(x, n, RATE, 1);
    free(x);
    return learned;
}

static void tones_of_40_ms_are_learned_and_those_of_23_ms_are_too_fast(void **state)
{
    (void)state;
    const double pause_s[] = {0.0, 0.2}; /* 0: as long as the beep */
    for (int i = 0; i < TONES; i++) {
        double hz = tone_hz[i], pause = pause_s[i % 2];
        struct thrum_voice slow = thrum_voice_beep(hz, 0.04, pause > 0.0 ? pause : 0.04),
                           fast = thrum_voice_beep(hz, 0.023, pause > 0.0 ? pause : 0.023);
        struct thrum_learned learned = learned_beeps(&slow, 0.0, 0.0, 5010u + (uint64_t)i);
        double off_hz, off_s;
        assert_int_equal(learned.what, THRUM_VOICE_FOUND);
        assert_true(cadence_matches(&learned.voice, &slow, &off_hz, &off_s));
        assert_between(off_s, 0.0, 0.003);
        learned = learned_beeps(&fast, 0.0, 0.0, 5010u + (uint64_t)i);
        assert_int_equal(learned.what, THRUM_NOT_TOO_FAST);
    }
}

static void a_break_of_10_ms_is_bridged(void **state)
{
    (void)state;
    for (int i = 0; i < TONES; i++) {
        struct thrum_voice voice = thrum_voice_beep(tone_hz[i], 0.25, 0.25);
        double off_hz, off_s;
        struct thrum_learned learned = learned_beeps(&voice, 0.04 + 0.02 * i, 0.01, 5030u + (uint64_t)i);
        assert_int_equal(learned.what, THRUM_VOICE_FOUND);
        assert_true(cadence_matches(&learned.voice, &voice, &off_hz, &off_s));
        assert_between(off_s, 0.0, 0.003);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_offset_is_accepted_to_1_5_and_refused_from_3_5_per_cent),
        cmocka_unit_test(tones_of_40_ms_are_learned_and_those_of_23_ms_are_too_fast),
        cmocka_unit_test(a_break_of_10_ms_is_bridged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
