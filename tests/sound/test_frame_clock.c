/* Counting frames against the clock: what is believed and what is not. */
#include "check.h"
#include "signals.h"
#include "sound/frame_clock.h"

#define RATE 48000.0

/* A card that gives 480 frames at a time; polled every 3 ms by a thread that is sometimes late. */
struct card {
    struct frame_clock clock;
    double t_s;
    double ppm;
    uint64_t held;  /* frames missing so far */
    uint64_t known; /* told so far */
    struct rng rng;
};

static struct card card_new(double ppm)
{
    struct card c = {.t_s = 0.0, .ppm = ppm, .held = 0, .known = 0, .rng = rng_seeded(3)};
    frame_clock_start(&c.clock, RATE, 1000000000u);
    return c;
}

static void run(struct card *c, double seconds, bool flag)
{
    double end_s = c->t_s + seconds;
    while (c->t_s < end_s) {
        c->t_s += 0.003 + (rng_uniform(&c->rng) < 0.01 ? 0.2 * rng_uniform(&c->rng) : 0.0);
        uint64_t heard = (uint64_t)(c->t_s * RATE * (1.0 + c->ppm * 1e-6)) / 480 * 480;
        uint64_t now_ns = 1000000000u + (uint64_t)(c->t_s * 1e9);
        c->known += frame_clock_look(&c->clock, now_ns, heard - c->held + c->known, flag);
    }
}

static void a_good_card_loses_nothing_in_an_hour(void **state)
{
    (void)state;
    struct card c = card_new(0.0);
    run(&c, 3600.0, false);
    assert_int_equal(c.known, 0);
}

static void a_card_off_by_0_2_percent_loses_nothing(void **state)
{
    (void)state;
    for (double ppm = -2000.0; ppm <= 2000.0; ppm += 1000.0) {
        struct card c = card_new(ppm);
        run(&c, 600.0, false);
        assert_int_equal(c.known, 0);
    }
}

static void a_flag_on_every_block_loses_nothing(void **state)
{
    (void)state;
    struct card c = card_new(0.0);
    run(&c, 600.0, true);
    assert_int_equal(c.known, 0);
}

static void a_flagged_hole_is_measured_within_a_block(void **state)
{
    (void)state;
    struct card c = card_new(20.0);
    run(&c, 10.0, false);
    for (int i = 0; i < 200; i++) {
        uint64_t before = c.known;
        c.held += 4800;
        run(&c, 0.001, true);
        run(&c, 7.0, false);
        /* one step of the card is 480 frames, one poll 144, and the error of the one before comes on top */
        assert_between((double)(c.known - before), 4800.0 - 1248.0, 4800.0 + 1248.0);
    }
    /* what was told wrongly is put right with the next hole: all of them are off by no more than the last */
    assert_between((double)c.known, 960000.0 - 624.0, 960000.0 + 624.0);
}

static void a_hole_without_a_flag_is_found_too(void **state)
{
    (void)state;
    struct card c = card_new(-50.0);
    run(&c, 10.0, false);
    c.held += 48000;
    run(&c, 3.0, false);
    assert_between((double)c.known, 48000.0 - 480.0, 48000.0 + 480.0);
}

static void a_small_flagged_hole_is_found_by_and_by(void **state)
{
    (void)state;
    struct card c = card_new(0.0);
    run(&c, 10.0, false);
    c.held += 480;
    run(&c, 0.001, true);
    run(&c, 3.0, false);
    assert_between((double)c.known, 300.0, 660.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_card_loses_nothing_in_an_hour),
        cmocka_unit_test(a_card_off_by_0_2_percent_loses_nothing),
        cmocka_unit_test(a_flag_on_every_block_loses_nothing),
        cmocka_unit_test(a_flagged_hole_is_measured_within_a_block),
        cmocka_unit_test(a_hole_without_a_flag_is_found_too),
        cmocka_unit_test(a_small_flagged_hole_is_found_by_and_by),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
