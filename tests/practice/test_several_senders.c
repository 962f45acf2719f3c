/* A practice bundle with several senders. */
#include "check.h"

#include <string.h>

#include "thrum/practice.h"

enum { N = 24000 };

static struct thrum_practice_config with_senders(uint64_t seed, int n)
{
    struct thrum_practice_config config = thrum_practice_config_default(seed);
    config.n_more = n - 1;
    for (int i = 0; i < n - 1; i++)
        config.more[i] = thrum_voice_beep(600.0 + 111.0 * i, 0.2, 0.2);
    return config;
}

static void each_drives_its_own_wire(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 10; seed++) {
        struct thrum_practice_config config = with_senders(seed, THRUM_MAX_SENDERS);
        struct thrum_practice *practice;
        config.ending = (enum thrum_ending)(seed % 4);
        assert_int_equal(thrum_practice_create(&config, &practice), THRUM_OK);
        for (int s = 0; s < THRUM_MAX_SENDERS; s++) {
            int driven = thrum_practice_driven_by(practice, s);
            double most = thrum_practice_strength_of(practice, s, driven);
            assert_between(most, config.tone_dbfs - 10.01, config.tone_dbfs + 0.01);
            for (int other = 0; other < s; other++)
                assert_int_not_equal(driven, thrum_practice_driven_by(practice, other));
            for (int wire = 0; wire < config.n_wires; wire++)
                if (wire != driven)
                    assert_true(thrum_practice_strength_of(practice, s, wire) < most);
        }
        assert_int_equal(thrum_practice_driven(practice), thrum_practice_driven_by(practice, 0));
        assert_int_equal(thrum_practice_driven_by(practice, THRUM_MAX_SENDERS), -1);
        thrum_practice_destroy(practice);
    }
}

/* A sender that others hold their wires against is weaker on those wires than it would be if they hung free. */
static void the_others_hold_their_wires(void **state)
{
    (void)state;
    struct thrum_practice_config config = with_senders(3, 3);
    struct thrum_practice *several, *alone;
    config.ending = THRUM_ENDING_FREE;
    assert_int_equal(thrum_practice_create(&config, &several), THRUM_OK);
    config.n_more = 0;
    assert_int_equal(thrum_practice_create(&config, &alone), THRUM_OK);
    assert_int_equal(thrum_practice_driven(several), thrum_practice_driven(alone));
    for (int s = 1; s < 3; s++) {
        int wire = thrum_practice_driven_by(several, s);
        assert_true(thrum_practice_strength(several, wire) < thrum_practice_strength(alone, wire) - 10.0);
    }
    thrum_practice_destroy(several);
    thrum_practice_destroy(alone);
}

/* Power of x at hz, as a sine's level in dBFS when it lasts all the time: one bin of a DFT. */
static double level_at(const float *x, double hz)
{
    double re = 0.0, im = 0.0;
    for (int i = 0; i < N; i++) {
        re += (double)x[i] * cos(2.0 * THRUM_PI * hz * i / 48000.0);
        im += (double)x[i] * sin(2.0 * THRUM_PI * hz * i / 48000.0);
    }
    return 20.0 * log10(2.0 * hypot(re, im) / N);
}

static void a_lead_has_its_own_senders_tone_only(void **state)
{
    (void)state;
    static float x[N];
    struct thrum_practice_config config = with_senders(4, 3);
    config.hum_over_tone_db = -200.0;
    for (int s = 0; s < 3; s++) {
        struct thrum_practice *practice;
        assert_int_equal(thrum_practice_create(&config, &practice), THRUM_OK);
        thrum_practice_place(practice, THRUM_PROBE_AT_LEAD - s);
        thrum_practice_read(practice, x, N);
        for (int other = 0; other < 3; other++) {
            double hz = other == 0 ? config.voice.tones_hz[0] : config.more[other - 1].tones_hz[0];
            assert_between(level_at(x, hz), other == s ? -45.0 : -200.0, other == s ? 0.0 : -60.0);
        }
        assert_true(thrum_practice_placed_strength_of(practice, s) > -23.0);
        thrum_practice_destroy(practice);
    }
}

static void any_split_gives_the_same(void **state)
{
    (void)state;
    static float whole[N], parts[N];
    struct thrum_practice_config config = with_senders(9, 4);
    struct thrum_practice *a, *b;
    assert_int_equal(thrum_practice_create(&config, &a), THRUM_OK);
    assert_int_equal(thrum_practice_create(&config, &b), THRUM_OK);
    thrum_practice_place(a, 2);
    thrum_practice_place(b, 2);
    thrum_practice_read(a, whole, N);
    for (size_t at = 0, n = 1; at < N; at += n, n = n % 97 + 5)
        thrum_practice_read(b, parts + at, n < N - at ? n : N - at);
    assert_memory_equal(whole, parts, sizeof whole);
    thrum_practice_destroy(a);
    thrum_practice_destroy(b);
}

static void more_senders_than_wires_are_refused(void **state)
{
    (void)state;
    struct thrum_practice_config config = with_senders(1, 4);
    struct thrum_practice *practice;
    config.n_wires = 3;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_ERR_ARG);
    config.n_wires = 4;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_OK);
    thrum_practice_destroy(practice);
    config.n_more = THRUM_MAX_SENDERS;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_ERR_ARG);
    config.n_more = 1;
    config.more[0].n_steps = 0;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_ERR_ARG);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_drives_its_own_wire),
        cmocka_unit_test(the_others_hold_their_wires),
        cmocka_unit_test(a_lead_has_its_own_senders_tone_only),
        cmocka_unit_test(any_split_gives_the_same),
        cmocka_unit_test(more_senders_than_wires_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
