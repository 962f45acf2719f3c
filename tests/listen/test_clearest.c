/* Several senders' voices in one stretch of sound: the clearest of them, or one that is heard, looked for in turn. */
#include <stdlib.h>

#include "check.h"
#include "listen/clearest.h"
#include "signals.h"

enum { RATE = 8000, N = 3 * RATE, VOICES = 3 };

static const double tones_hz[VOICES] = {900.0, 1200.0, 1700.0};

struct bench {
    struct thrum_touchfit *fit[VOICES];
    struct thrum_mains *mains;
    struct thrum_touch_tools tools;
    float x[N];
};

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    for (int i = 0; i < VOICES; i++) {
        struct thrum_voice voice = thrum_voice_beep(tones_hz[i], 0.25, 0.25);
        assert_int_equal(thrum_touchfit_create(RATE, &voice, &b->fit[i]), THRUM_OK);
    }
    assert_int_equal(thrum_mains_create(RATE, &b->mains), THRUM_OK);
    b->tools = (struct thrum_touch_tools){.fits = b->fit, .n_fits = VOICES, .mains = b->mains};
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    for (int i = 0; i < VOICES; i++)
        thrum_touchfit_destroy(b->fit[i]);
    thrum_mains_destroy(b->mains);
    free(b);
    return 0;
}

/* Noise, and the senders at these levels; 0 dBFS is none. */
static void sound(struct bench *b, uint64_t seed, const double dbfs[VOICES])
{
    struct rng rng = rng_seeded(seed);
    for (int i = 0; i < N; i++)
        b->x[i] = 0.0f;
    add_noise(&rng, b->x, N, 1e-4);
    for (int i = 0; i < VOICES; i++) {
        struct sender sender = {
            .voice = thrum_voice_beep(tones_hz[i], 0.25, 0.25), .dbfs = dbfs[i], .start_s = 0.1 + 0.07 * i};
        if (dbfs[i] < 0.0)
            add_sender(&rng, b->x, N, RATE, &sender);
    }
}

static void whoever_sounds_is_found_whoever_is_looked_for_first(void **state)
{
    struct bench *b = *state;
    for (int who = 0; who < VOICES; who++) {
        double dbfs[VOICES] = {0.0};
        dbfs[who] = -50.0;
        sound(b, 7100u + (uint64_t)who, dbfs);
        for (int from = 0; from < VOICES; from++) {
            struct thrum_clearest heard = thrum_heard_in(&b->tools, b->x, N, from);
            assert_true(heard.strength.heard);
            assert_int_equal(heard.voice, who);
            assert_close(heard.strength.dbfs, -50.0, 0.5);
        }
        assert_int_equal(thrum_clearest_in(&b->tools, b->x, N).voice, who);
    }
}

/* The look of twice a second ends with the first that is heard: the one heard before, as long as it sounds. */
static void one_that_is_heard_is_enough(void **state)
{
    struct bench *b = *state;
    const double dbfs[VOICES] = {-40.0, 0.0, -52.0};
    sound(b, 7110, dbfs);
    assert_int_equal(thrum_clearest_in(&b->tools, b->x, N).voice, 0);
    assert_int_equal(thrum_heard_in(&b->tools, b->x, N, 0).voice, 0);
    assert_int_equal(thrum_heard_in(&b->tools, b->x, N, 1).voice, 2); /* the next in turn */
    assert_int_equal(thrum_heard_in(&b->tools, b->x, N, 2).voice, 2); /* weaker, but heard */
}

static void nobody_is_found_where_nobody_sounds(void **state)
{
    struct bench *b = *state;
    const double dbfs[VOICES] = {0.0};
    sound(b, 7120, dbfs);
    for (int from = 0; from < VOICES; from++) {
        struct thrum_clearest heard = thrum_heard_in(&b->tools, b->x, N, from);
        assert_non_null(heard.fit);
        assert_false(heard.strength.heard);
    }
    b->tools.n_fits = 0;
    assert_null(thrum_heard_in(&b->tools, b->x, N, 0).fit);
    b->tools.n_fits = VOICES;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(whoever_sounds_is_found_whoever_is_looked_for_first, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(one_that_is_heard_is_enough, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nobody_is_found_where_nobody_sounds, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
