/* The rate at which frames really come, found by counting them against the clock. */
#include "check.h"
#include "signals.h"
#include "sound/rate_watch.h"

/* A card that says one rate and delivers another, so many frames at a time, polled every 3 ms by a thread that is sometimes
 * late. */
struct card {
    struct rate_watch watch;
    double says_hz, gives_hz, t_s;
    uint64_t block, lost;
    struct rng rng;
};

static struct card card_new(double says_hz, double gives_hz, uint64_t block)
{
    struct card c = {.says_hz = says_hz, .gives_hz = gives_hz, .block = block, .rng = rng_seeded(4)};
    rate_watch_start(&c.watch, says_hz, 1000000000u);
    return c;
}

/* Until another rate is found, or the time is over; that rate or 0. */
static double run(struct card *c, double seconds, double late, bool flag)
{
    uint64_t before = 0;
    for (double end_s = c->t_s + seconds; c->t_s < end_s;) {
        c->t_s += 0.003 + (rng_uniform(&c->rng) < late ? 0.1 * rng_uniform(&c->rng) : 0.0);
        uint64_t came = (uint64_t)(c->t_s * c->gives_hz) / c->block * c->block;
        double found_hz = 0.0;
        if (came != before) {
            found_hz =
                rate_watch_look(&c->watch, 1000000000u + (uint64_t)(c->t_s * 1e9), came - c->lost, flag);
        }
        before = came;
        if (found_hz > 0.0)
            return found_hz;
    }
    return 0.0;
}

static void every_pair_of_usual_rates_is_told_apart_within_a_second(void **state)
{
    (void)state;
    static const double hz[] = {8000.0,  11025.0, 16000.0, 22050.0, 32000.0,
                                44100.0, 48000.0, 88200.0, 96000.0};
    for (size_t i = 0; i < 9; i++) {
        for (size_t k = 0; k < 9; k++) {
            for (int block_ms = 5; block_ms <= 40; block_ms *= 2) {
                struct card c = card_new(hz[i], hz[k] * 1.0002, (uint64_t)(hz[k] * block_ms / 1000.0));
                double found_hz = run(&c, i == k ? 60.0 : 1.0, 0.0, false);
                assert_close(found_hz, i == k ? 0.0 : hz[k], 1e-9);
            }
        }
    }
}

static void an_honest_card_is_left_alone_for_an_hour(void **state)
{
    (void)state;
    static const double off[] = {0.998, 1.0, 1.002, 1.01, 0.985};
    for (size_t i = 0; i < sizeof off / sizeof *off; i++) {
        struct card c = card_new(48000.0, 48000.0 * off[i], 480);
        assert_close(run(&c, 3600.0, 0.02, false), 0.0, 0.0);
    }
    struct card c = card_new(44099.7, 44099.7, 441);
    assert_close(run(&c, 3600.0, 0.02, false), 0.0, 0.0);
}

/* A busy computer looks late now and then: it takes longer, but it is found. */
static void a_busy_computer_finds_it_too(void **state)
{
    (void)state;
    struct card c = card_new(48000.0, 44100.0, 480);
    assert_close(run(&c, 10.0, 0.02, false), 44100.0, 1e-9);
    assert_true(c.t_s < 10.0);
}

static void flags_on_every_block_hide_nothing(void **state)
{
    (void)state;
    struct card c = card_new(48000.0, 44100.0, 480);
    assert_close(run(&c, 1.2, 0.0, true), 44100.0, 1e-9);
    c = card_new(48000.0, 48000.0, 480);
    assert_close(run(&c, 600.0, 0.0, true), 0.0, 0.0);
}

/* Holes are losses, be they as large in sum as the difference of two rates. */
static void holes_are_no_rate(void **state)
{
    (void)state;
    struct card c = card_new(48000.0, 48000.0, 480);
    for (int i = 0; i < 600; i++) { /* 3900 frames a second, in two pieces */
        c.lost += 1950;
        assert_close(run(&c, 0.5, 0.0, false), 0.0, 0.0);
    }
    c = card_new(48000.0, 48000.0, 480);
    for (int i = 0; i < 6000; i++) { /* in twenty pieces, each flagged */
        uint64_t came = (uint64_t)(c.t_s * 48000.0) / 480 * 480;
        c.lost += 195;
        assert_close(rate_watch_look(&c.watch, 1000000000u + (uint64_t)(c.t_s * 1e9), came - c.lost, true),
                     0.0, 0.0);
        assert_close(run(&c, 0.05, 0.0, false), 0.0, 0.0);
    }
}

static void a_rate_that_changes_is_told_each_time(void **state)
{
    (void)state;
    struct card c = card_new(48000.0, 48000.0, 480);
    uint64_t came = 0;
    static const double gives_hz[] = {48000.0, 44100.0, 48000.0, 16000.0};
    double found[4] = {0.0};
    for (int i = 0; i < 4; i++) {
        for (int n = 0; n < 500; n++) { /* five seconds in blocks of 10 ms */
            c.t_s += 0.01;
            came += (uint64_t)(gives_hz[i] / 100.0);
            double hz = rate_watch_look(&c.watch, 1000000000u + (uint64_t)(c.t_s * 1e9), came, false);
            assert_true(hz < 1.0 || n < 150);
            found[i] = hz > 0.0 ? hz : found[i];
        }
    }
    assert_close(found[0], 0.0, 0.0);
    for (int i = 1; i < 4; i++)
        assert_close(found[i], gives_hz[i], 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_pair_of_usual_rates_is_told_apart_within_a_second),
        cmocka_unit_test(an_honest_card_is_left_alone_for_an_hour),
        cmocka_unit_test(a_busy_computer_finds_it_too),
        cmocka_unit_test(flags_on_every_block_hide_nothing),
        cmocka_unit_test(holes_are_no_rate),
        cmocka_unit_test(a_rate_that_changes_is_told_each_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
