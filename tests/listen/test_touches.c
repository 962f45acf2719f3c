/* Every touch of a walk is found, whether the hum tells, or only the tone. */
#include "check.h"

#include <stdlib.h>

#include "signals.h"
#include "walks.h"

enum { SEEDS = 4 };

/* Eight wires at Hollin Fern House, 3 s each, 0.8 s in the air between. */
static struct thrum_practice_config house(int seed)
{
    struct thrum_practice_config config = thrum_practice_config_default((uint64_t)seed);
    config.n_wires = 8;
    config.rate_hz = 8000;
    return config;
}

static void expect_found(const struct thrum_practice_config *config, double border_s)
{
    struct thrum_span found[WALK_TOUCHES];
    struct walk walk = walk_made(config);
    int n = walk_heard(&walk, 441, found);
    walk_expect(&walk, found, n, border_s);
    walk_free(&walk);
}

/* The hand takes 30 ms to come and go, levels are made every 20 ms and 60 ms are taken off at either end. */
static void hum_that_collapses_tells_every_touch_within_150_ms(void **state)
{
    (void)state;
    const double mains[] = {50, 60};
    for (int m = 0; m < 2; m++)
        for (int seed = 0; seed < SEEDS; seed++) {
            struct thrum_practice_config config = house(seed);
            config.mains_hz = mains[m];
            expect_found(&config, 0.15);
        }
}

static void every_ending_of_the_bundle_gives_the_same_touches(void **state)
{
    (void)state;
    for (int ending = THRUM_ENDING_FREE; ending <= THRUM_ENDING_SHARED; ending++) {
        struct thrum_practice_config config = house(10 + ending);
        config.ending = (enum thrum_ending)ending;
        expect_found(&config, 0.15);
        config.hum_over_tone_db = 35;
        expect_found(&config, 0.15);
    }
}

static void wires_without_any_tone_are_touches_too(void **state)
{
    (void)state;
    for (int seed = 0; seed < SEEDS; seed++) {
        struct thrum_practice_config config = house(seed);
        config.no_sender = true;
        expect_found(&config, 0.15);
    }
}

static void short_and_long_touches_are_found(void **state)
{
    (void)state;
    const double touch_s[] = {1.0, 6.0, 12.0}, lift_s[] = {0.3, 0.8, 2.0};
    for (int i = 0; i < 3; i++)
        for (int seed = 0; seed < 2; seed++) {
            struct thrum_practice_config config = house(seed);
            config.touch_s = touch_s[i];
            config.lift_s = lift_s[i];
            expect_found(&config, 0.15);
        }
}

/* No hum: only beeps tell, so a border is known to a beep and a pause, and a beep cut by it is left out. */
static void without_hum_the_beeps_tell_the_touches(void **state)
{
    (void)state;
    for (int seed = 0; seed < 2 * SEEDS; seed++) {
        struct thrum_practice_config config = house(seed);
        config.ending =
            THRUM_ENDING_FREE; /* all are heard: nothing tells a wire without hum and tone from air */
        config.hum_over_tone_db = -200;
        expect_found(&config, 0.85);
        config.voice = thrum_voice_beep(1037, 0.1, 0.1);
        expect_found(&config, 0.4);
    }
}

/* Without hum a wire without tone sounds like air. Where the strongest touch gets a wrong number, it says so. */
static void without_hum_a_wrong_number_is_in_doubt(void **state)
{
    (void)state;
    for (int seed = 40; seed < 40 + 2 * SEEDS; seed++) {
        struct thrum_practice_config config = house(seed);
        config.ending = THRUM_ENDING_LOADED; /* coils: hardly any wire but the driven one is heard */
        config.hum_over_tone_db = -200;
        struct thrum_reading strongest = {.strength = {{.dbfs = THRUM_FLOOR_DBFS}}};
        struct walk walk = walk_made(&config);
        int number = walk_strongest(&walk, &strongest);
        double middle = (double)strongest.first_frame + 0.5 * (double)strongest.frames;
        assert_true(strongest.strength[0].heard);
        assert_between(middle, (double)walk.touch[walk.driven].first, (double)walk.touch[walk.driven].end);
        if (number != walk.driven)
            assert_true(strongest.faults & THRUM_FAULT_COUNT);
        walk_free(&walk);
    }
}

/* One unbroken sound of 7 touches, hum and probe always there, the tone's level stepping by 4 dB and more. */
static int steps_heard(uint64_t seed, const struct hum *hum, struct thrum_span *found, double *worst_db)
{
    enum { WIRES = 7, RATE = 8000, EACH = 3 * RATE };
    const double db[WIRES] = {-45, -50, -46, -58, -53, -40, -44};
    struct rng rng = rng_seeded(seed);
    struct sender sender = {.voice = thrum_voice_beep(1037, 0.25, 0.25), .dbfs = 0, .wobble_db = 0.3};
    float *x = calloc(WIRES * EACH, sizeof *x), *tone = calloc(WIRES * EACH, sizeof *tone);
    struct thrum_listener_config config = {
        .rate_hz = RATE, .channels = 1, .n_voices = 1, .voice = {sender.voice}};
    struct thrum_listener *listener;
    struct thrum_reading reading;
    int n = 0;
    sender.start_s = rng_uniform(&rng) * 0.5;
    assert_true(x && tone);
    if (hum)
        add_hum(&rng, x, WIRES * EACH, RATE, hum);
    add_noise(&rng, x, WIRES * EACH, 1e-4);
    add_sender(&rng, tone, WIRES * EACH, RATE, &sender);
    for (int i = 0; i < WIRES * EACH; i++)
        x[i] += tone[i] * (float)thrum_amplitude_from_db(db[i / EACH]);
    config.find_touches = true;
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    thrum_listener_feed(listener, x, WIRES * EACH);
    thrum_listener_finish(listener);
    while (n < WALK_TOUCHES && thrum_listener_next_touch(listener, &found[n])) {
        assert_int_equal(thrum_listener_measure(listener, found[n], &reading), THRUM_OK);
        if (n < WIRES)
            *worst_db = fmax(*worst_db, fabs(reading.strength[0].dbfs - db[n]));
        n++;
    }
    thrum_listener_destroy(listener);
    free(x);
    free(tone);
    return n;
}

static void without_lifts_the_steps_of_the_tone_tell_the_touches(void **state)
{
    (void)state;
    const struct hum hums[] = {
        {.hz = 50.02, .wander_hz = 0.02, .harmonics = 40, .dbfs = -25, .wobble_db = 0.5},
        {.hz = 59.97, .wander_hz = 0.02, .harmonics = 40, .dbfs = -25, .wobble_db = 0.5}};
    for (uint64_t seed = 0; seed < SEEDS; seed++)
        for (int h = 0; h < 3; h++) {
            struct thrum_span found[WALK_TOUCHES];
            double worst_db = 0.0;
            assert_int_equal(steps_heard(seed, h < 2 ? &hums[h] : NULL, found, &worst_db), 7);
            assert_between(worst_db, 0.0, 1.0); /* wobble 0.3 dB, and the touch is clean of its neighbours */
            for (int i = 0; i < 7; i++) {
                assert_close((double)found[i].first / 8000, 3.0 * i, 0.6);
                assert_close((double)found[i].end / 8000, 3.0 * (i + 1), 0.6);
            }
        }
}

static void one_long_touch_is_one_touch(void **state)
{
    (void)state;
    for (int seed = 0; seed < SEEDS; seed++) {
        struct thrum_practice_config config = house(seed);
        config.n_wires = 2;
        config.touch_s = 16.0;
        expect_found(&config, 0.15);
        config.ending = THRUM_ENDING_SHARED;
        config.hum_over_tone_db = -200;
        expect_found(&config, 0.85);
    }
}

static void a_walk_that_begins_and_ends_on_a_wire_loses_none(void **state)
{
    (void)state;
    for (int seed = 0; seed < SEEDS; seed++) {
        struct thrum_practice_config config = house(seed);
        struct thrum_span found[WALK_TOUCHES];
        struct walk walk = walk_made(&config), cut = walk;
        size_t off = (size_t)walk.touch[0].first + 800, last = (size_t)walk.touch[7].end;
        cut.x = walk.x + off;
        cut.n = last - off;
        for (int i = 0; i < 8; i++)
            cut.touch[i] = (struct thrum_span){i ? walk.touch[i].first - off : 0, walk.touch[i].end - off};
        int n = walk_heard(&cut, 4096, found);
        walk_expect(&cut, found, n, 0.15);
        walk_free(&walk);
    }
}

static void blocks_of_any_size_give_the_same_touches(void **state)
{
    (void)state;
    const size_t blocks[] = {1, 64, 441, 4096};
    struct thrum_practice_config config = house(7);
    for (int hum = 0; hum < 2; hum++) {
        config.hum_over_tone_db = hum ? 20 : -200;
        struct walk walk = walk_made(&config);
        struct thrum_span whole[WALK_TOUCHES], found[WALK_TOUCHES];
        int n = walk_heard(&walk, walk.n, whole);
        for (int b = 0; b < 4; b++) {
            assert_int_equal(walk_heard(&walk, blocks[b], found), n);
            assert_memory_equal(found, whole, (size_t)n * sizeof *whole);
        }
        walk_free(&walk);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hum_that_collapses_tells_every_touch_within_150_ms),
        cmocka_unit_test(every_ending_of_the_bundle_gives_the_same_touches),
        cmocka_unit_test(wires_without_any_tone_are_touches_too),
        cmocka_unit_test(short_and_long_touches_are_found),
        cmocka_unit_test(without_hum_the_beeps_tell_the_touches),
        cmocka_unit_test(without_hum_a_wrong_number_is_in_doubt),
        cmocka_unit_test(without_lifts_the_steps_of_the_tone_tell_the_touches),
        cmocka_unit_test(one_long_touch_is_one_touch),
        cmocka_unit_test(a_walk_that_begins_and_ends_on_a_wire_loses_none),
        cmocka_unit_test(blocks_of_any_size_give_the_same_touches),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
