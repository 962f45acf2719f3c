/* Does it key as the voice does: a tone, and what is none, told apart by what single windows hold. */
#include "check.h"

#include "signal/keying.h"
#include "signals.h"

enum { WINDOWS = 12, RUNS = 600 };

/* Energy of a window over its noise: a sound of energy g and any phase in complex noise of power 1. */
static double energy(struct rng *rng, double g)
{
    double re = sqrt(g) + sqrt(0.5) * rng_normal(rng), im = sqrt(0.5) * rng_normal(rng);
    return re * re + im * im;
}

/* Six beeps and six pauses by turns, power g in the beeps and `pause` in the pauses, with noise of power `noise`. */
static void made(struct rng *rng, double g, double pause, double noise, struct thrum_keying_window *w)
{
    for (int i = 0; i < WINDOWS; i++)
        w[i] = (struct thrum_keying_window){
            .power = noise * energy(rng, i % 2 ? pause : g), .variance = noise, .on = i % 2 == 0};
}

/* The levels that a tone needs to be heard. */
static bool is_like_a_tone(const struct thrum_keying_window *w)
{
    struct thrum_keying_odds odds = thrum_keying_weigh(w, WINDOWS);
    return odds.noise > 6.0 && odds.bursts > 2.5 && odds.pauses > -3.0;
}

static int like_a_tone(double g, double pause, uint64_t seed)
{
    struct rng rng = rng_seeded(seed);
    struct thrum_keying_window w[WINDOWS];
    int like = 0;
    for (int i = 0; i < RUNS; i++) {
        made(&rng, g, pause, 1.0, w);
        like += is_like_a_tone(w);
    }
    return like;
}

/* At 5.5, 2.5 dB more than the non-coherent bound asks of six beeps (37.01 / 12 = 3.08; computed), hardly any tone is lost
   by this; louder ones are never. */
static void a_keyed_tone_keys(void **state)
{
    (void)state;
    assert_between(like_a_tone(5.5, 0.0, 1), 0.98 * RUNS, RUNS);
    assert_between(like_a_tone(50.0, 0.0, 2), 0.998 * RUNS, RUNS);
    assert_between(like_a_tone(1e5, 1e3, 3), RUNS, RUNS); /* 20 dB less in the pauses: soft edges, an echo */
}

static void what_sounds_in_the_pauses_does_not(void **state)
{
    (void)state;
    for (double g = 20.0; g < 1e6; g *= 10.0) {
        assert_between(like_a_tone(g, g, 4), 0, 1);
        assert_between(like_a_tone(g, 0.5 * g, 5), 0, 0.02 * RUNS);
    }
    assert_between(like_a_tone(0.0, 0.0, 6), 0, 1);
}

/* Speech, gusts, knocks: every window as loud as it likes over 40 dB. */
static void bursts_do_not_key(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(7);
    struct thrum_keying_window w[WINDOWS];
    int like = 0;
    for (int i = 0; i < RUNS; i++) {
        for (int k = 0; k < WINDOWS; k++)
            w[k] = (struct thrum_keying_window){energy(&rng, pow(10, rng_between(&rng, -2.0, 2.0))), 1.0,
                                                k % 2 == 0};
        like += is_like_a_tone(w);
    }
    assert_between(like, 0, 0.05 * RUNS);
}

static void one_loud_beep_of_six_is_no_tone(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(8);
    struct thrum_keying_window w[WINDOWS];
    for (double loud = 3.0; loud < 1e8; loud *= 10.0) {
        made(&rng, 0.0, 0.0, 1.0, w);
        w[4].power = loud;
        assert_false(is_like_a_tone(w));
    }
}

/* A cadence twice as long: of seven beeps four sound, one more than half. */
static void every_second_beep_is_another_cadence(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(10);
    struct thrum_keying_window w[14];
    int like = 0;
    for (int i = 0; i < RUNS; i++) {
        for (int k = 0; k < 14; k++)
            w[k] = (struct thrum_keying_window){energy(&rng, k % 4 ? 0.0 : 100.0), 1.0, k % 2 == 0};
        struct thrum_keying_odds odds = thrum_keying_weigh(w, 14);
        like += odds.pauses > -3.0;
    }
    assert_between(like, 0, 0.01 * RUNS);
}

/* Four seconds of a tone with one cadence, in pieces of 40 ms of the beeps and pauses of another; energies 50 over the noise, or so little. */
static double whole(const double learned_s[2], const double sent_s[2], double g, double noise, uint64_t seed)
{
    static struct thrum_keying_piece piece[100];
    struct rng rng = rng_seeded(seed);
    double cycle_s = learned_s[0] + learned_s[1], sent = sent_s[0] + sent_s[1];
    for (int i = 0; i < 100; i++) {
        double at_s = 0.04 * i;
        bool sounds = fmod(at_s + 0.02, sent) < sent_s[0];
        piece[i] = (struct thrum_keying_piece){.at_s = at_s,
                                               .power = noise * energy(&rng, sounds ? g : 0.0),
                                               .variance = noise,
                                               .on = fmod(at_s + 0.02, cycle_s) < learned_s[0]};
    }
    return thrum_keying_whole(
        &(struct thrum_keying_pieces){.piece = piece, .n = 100, .piece_s = 0.04, .cycle_s = cycle_s});
}

/* Beeps that hide in longer ones, with pauses where theirs are; the sender's own; both too weak to tell. */
static void beeps_within_beeps_are_told(void **state)
{
    (void)state;
    const double longer[] = {0.72, 0.24}, third[] = {0.24, 0.24}, within[] = {0.24, 0.72},
                 half[] = {0.36, 0.12};
    for (uint64_t seed = 20; seed < 60; seed++) {
        assert_true(whole(longer, third, 50.0, 1.0, seed) < -12.0);
        assert_true(whole(longer, within, 50.0, 1.0, seed) < -12.0);
        assert_true(whole(longer, half, 50.0, 1.0, seed) < -12.0);
        assert_true(whole(longer, longer, 50.0, 1.0, seed) > -4.0);
        assert_true(whole(third, third, 50.0, 1.0, seed) > -4.0);
        assert_true(whole(third, third, 2.0, 1.0, seed) > -8.0);
    }
}

static void a_tone_may_begin_and_end_within_the_stretch(void **state)
{
    (void)state;
    static struct thrum_keying_piece piece[100];
    for (int i = 0; i < 100; i++)
        piece[i] = (struct thrum_keying_piece){.at_s = 0.04 * i,
                                               .power = i >= 30 && i < 80 && i % 10 < 5 ? 50.0 : 1.0,
                                               .variance = 1.0,
                                               .on = i % 10 < 5};
    struct thrum_keying_pieces pieces = {.piece = piece, .n = 100, .piece_s = 0.04, .cycle_s = 0.4};
    assert_true(thrum_keying_whole(&pieces) > -4.0);
    pieces.n = 0;
    assert_close(thrum_keying_whole(&pieces), 0.0, 1e-12);
}

/* By definition: a factor in the units changes nothing; nothing to look at tells nothing. */
static void units_do_not_matter_and_nothing_tells_nothing(void **state)
{
    (void)state;
    struct thrum_keying_window a[WINDOWS], b[WINDOWS];
    struct rng one = rng_seeded(9), two = rng_seeded(9);
    made(&one, 8.0, 0.0, 1.0, a);
    made(&two, 8.0, 0.0, 1e-9, b);
    struct thrum_keying_odds x = thrum_keying_weigh(a, WINDOWS), y = thrum_keying_weigh(b, WINDOWS),
                             none = thrum_keying_weigh(a, 0);
    assert_close(x.noise, y.noise, 1e-6);
    assert_close(x.bursts, y.bursts, 1e-6);
    assert_close(x.pauses, y.pauses, 1e-6);
    assert_true(none.noise == 0.0 && none.bursts == 0.0 && none.pauses == 0.0);
    for (int i = 0; i < WINDOWS; i++)
        a[i].power = i % 2 ? 0.0 : 1e200;
    x = thrum_keying_weigh(a, WINDOWS);
    assert_true(isfinite(x.noise) && isfinite(x.bursts) && isfinite(x.pauses));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_keyed_tone_keys),
        cmocka_unit_test(what_sounds_in_the_pauses_does_not),
        cmocka_unit_test(bursts_do_not_key),
        cmocka_unit_test(one_loud_beep_of_six_is_no_tone),
        cmocka_unit_test(every_second_beep_is_another_cadence),
        cmocka_unit_test(beeps_within_beeps_are_told),
        cmocka_unit_test(a_tone_may_begin_and_end_within_the_stretch),
        cmocka_unit_test(units_do_not_matter_and_nothing_tells_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
