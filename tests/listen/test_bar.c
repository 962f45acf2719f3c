/* The fast bar: its reading, its speed, what it hears beside the tone. */
#include "check.h"

#include "listen/bar.h"
#include "thrum/units.h"

static double bar_dbfs(const struct thrum_bar *bar)
{
    return thrum_db_from_power(bar->power);
}

/* AES17 (from memory): a full-scale sine is 0 dBFS. The 2 f term is left over: below 0.02 dB at these tones. */
static void full_scale_tone_reads_0_dbfs_at_any_rate(void **state)
{
    (void)state;
    const double rates[] = {8000, 11025, 12000, 15999}, tones[] = {300, 1037, 2211, 3400};
    for (int r = 0; r < 4; r++)
        for (int k = 0; k < 4; k++) {
            struct thrum_bar bar = thrum_bar_start(rates[r], tones[k]);
            for (int i = 0; i < (int)rates[r]; i++)
                thrum_bar_feed(&bar, cos(2 * THRUM_PI * tones[k] * i / rates[r] + 0.7));
            assert_close(bar_dbfs(&bar), 0.0, 0.02);
        }
}

static void a_tenth_reads_20_db_less(void **state)
{
    (void)state;
    struct thrum_bar bar = thrum_bar_start(8000, 1037);
    for (int i = 0; i < 8000; i++)
        thrum_bar_feed(&bar, 0.1 * sin(2 * THRUM_PI * 1037 * i / 8000));
    assert_close(bar_dbfs(&bar), -20.0, 0.02);
}

/* Seconds from a step of the tone to a bar of half its amplitude. The product's figure: at most 60 ms in all. By the
 * weights' symmetry it is half their length, 20 ms, and up to one bin of 4 ms more. */
static void half_rise_comes_within_25_ms(void **state)
{
    (void)state;
    for (int phase = 0; phase < 16; phase++) {
        struct thrum_bar bar = thrum_bar_start(8000, 1037);
        int i = 0;
        for (; i < 800 + phase * 7; i++)
            thrum_bar_feed(&bar, 0.0);
        int from = i;
        for (; bar.power < 0.25 && i < 8000; i++)
            thrum_bar_feed(&bar, cos(2 * THRUM_PI * 1037 * i / 8000));
        assert_between((i - from) / 8000.0, 0.016, 0.025);
    }
}

/* Computed: a Hann weight of 40 ms is zero from 50 Hz on; the bins of 4 ms fold at 250 Hz, where they are zero, and
   25 Hz beside that let through 20 lg(sinc 0.9) = -19.2 dB, of which the weight takes 6. */
static void other_tones_are_left_out(void **state)
{
    (void)state;
    const double beside[] = {3, 60, 85, 110, 225, 250};
    const double least[] = {-0.2, -200, -200, -200, -200, -200}, most[] = {0.0, -30, -30, -40, -24, -40};
    for (int k = 0; k < 6; k++) {
        struct thrum_bar bar = thrum_bar_start(8000, 1037);
        double highest = 0.0;
        for (int i = 0; i < 16000; i++)
            if (thrum_bar_feed(&bar, cos(2 * THRUM_PI * (1037 + beside[k]) * i / 8000)) && i > 8000)
                highest = fmax(highest, bar.power);
        assert_between(thrum_db_from_power(highest), least[k], most[k]);
    }
}

/* Rounding of the turning pointer must not grow: after an hour the reading is the same. */
static void an_hour_later_it_reads_the_same(void **state)
{
    (void)state;
    struct thrum_bar bar = thrum_bar_start(8000, 1000);
    for (int i = 0; i < 8000 * 3600; i++)
        thrum_bar_feed(&bar, i % 8 < 4 ? 1.0 : -1.0);
    double after = bar.power;
    bar = thrum_bar_start(8000, 1000);
    for (int i = 0; i < 8000; i++)
        thrum_bar_feed(&bar, i % 8 < 4 ? 1.0 : -1.0);
    assert_close(thrum_db_from_power(after), bar_dbfs(&bar), 1e-6);
}

static void silence_reads_the_floor(void **state)
{
    (void)state;
    struct thrum_bar bar = thrum_bar_start(8000, 1037);
    for (int i = 0; i < 800; i++)
        thrum_bar_feed(&bar, 0.0);
    assert_true(bar_dbfs(&bar) == THRUM_FLOOR_DBFS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_scale_tone_reads_0_dbfs_at_any_rate),
        cmocka_unit_test(a_tenth_reads_20_db_less),
        cmocka_unit_test(half_rise_comes_within_25_ms),
        cmocka_unit_test(other_tones_are_left_out),
        cmocka_unit_test(an_hour_later_it_reads_the_same),
        cmocka_unit_test(silence_reads_the_floor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
