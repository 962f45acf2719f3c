/* A sender with another cadence than the voice: what is heard in one word agrees with what the whole touch says. */
#include "check.h"

#include <stdlib.h>

#include "signals.h"
#include "thrum/round.h"

#define RATE 8000.0
enum { BLOCK = 2000, TOUCH_BLOCKS = 16, AIR_BLOCKS = 8, ROUNDS = 6 };

struct said {
    int own, other; /* snapshots in which the sender's beeps, or another cadence, are heard */
};

static struct thrum_round *make(const struct thrum_voice *learned)
{
    struct thrum_round *round;
    struct thrum_round_config config = {.pick = thrum_pick_config_default()};
    config.listener.rate_hz = RATE;
    config.listener.channels = 1;
    config.listener.channel = -1;
    config.listener.bar = true;
    config.listener.n_voices = 1;
    config.listener.voice[0] = *learned;
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    return round;
}

/* Air, four seconds on a wire with a sender, air: a quarter of a second at a time. */
static float *make_sound(const struct thrum_voice *sent, uint64_t seed, size_t *n)
{
    struct rng rng = rng_seeded(seed);
    size_t air = (size_t)AIR_BLOCKS * BLOCK, touch = (size_t)TOUCH_BLOCKS * BLOCK;
    *n = 2 * air + touch;
    float *x = calloc(*n, sizeof *x);
    struct sender sender = {.voice = *sent, .dbfs = -40.0};
    assert_non_null(x);
    sender.start_s = thrum_voice_cycle_s(sent) * rng_uniform(&rng);
    add_sender(&rng, x + air, touch, RATE, &sender);
    add_hum(&rng, x, *n, RATE, &(struct hum){.hz = 50.02, .harmonics = 40, .dbfs = -30.0});
    add_noise(&rng, x, *n, 1e-4);
    return x;
}

static struct said listen_to(const struct thrum_voice *learned, const struct thrum_voice *sent, uint64_t seed)
{
    struct said said = {0};
    size_t n;
    float *x = make_sound(sent, seed, &n);
    struct thrum_round *round = make(learned);
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    assert_non_null(seen);
    for (size_t i = 0; i < n / BLOCK; i++) {
        if (i == AIR_BLOCKS || i == AIR_BLOCKS + TOUCH_BLOCKS)
            assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
        thrum_round_feed(round, x + i * BLOCK, BLOCK);
        thrum_round_snapshot(round, seen);
        said.own += seen->now.heard == THRUM_HEARD_TONE;
        said.other += seen->now.heard == THRUM_HEARD_OTHER_CADENCE;
    }
    free(seen);
    thrum_round_destroy(round);
    free(x);
    return said;
}

static struct said listen_often(const double learned_s[2], const double sent_s[2])
{
    struct thrum_voice learned = thrum_voice_beep(1037.0, learned_s[0], learned_s[1]);
    struct thrum_voice sent = thrum_voice_beep(1037.0, sent_s[0], sent_s[1]);
    struct said all = {0};
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct said said = listen_to(&learned, &sent, 5200 + seed);
        all.own += said.own;
        all.other += said.other;
    }
    return all;
}

/* Twice, three and four times as long; beeps that hide in longer ones; on and off exchanged. */
static void another_cadence_is_hardly_called_the_senders(void **state)
{
    (void)state;
    static const double pair[][2][2] = {{{0.3, 0.3}, {0.25, 0.25}},     {{0.5, 0.5}, {0.25, 0.25}},
                                        {{1.0, 1.0}, {0.25, 0.25}},     {{0.687, 0.25}, {0.25, 0.25}},
                                        {{0.687, 0.25}, {0.5, 0.5}},    {{0.25, 0.687}, {0.687, 0.25}},
                                        {{0.687, 0.25}, {0.25, 0.687}}, {{0.3, 0.1}, {0.1, 0.1}}};
    for (size_t i = 0; i < sizeof pair / sizeof pair[0]; i++) {
        struct said said = listen_often(pair[i][0], pair[i][1]);
        assert_between(said.own, 0, ROUNDS * 2);
        assert_true(said.other > ROUNDS * 2);
    }
}

static void the_senders_own_is_not_called_another(void **state)
{
    (void)state;
    static const double own[][2] = {{0.25, 0.25}, {0.687, 0.25}, {0.25, 0.687}, {0.1, 0.1}};
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
        struct said said = listen_often(own[i], own[i]);
        assert_int_equal(said.other, 0);
        assert_true(said.own > ROUNDS * 10);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(another_cadence_is_hardly_called_the_senders),
        cmocka_unit_test(the_senders_own_is_not_called_another),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
