/* The rate at which sound was made, told by its mains. */
#include "check.h"

#include "listen/rate.h"

/* Computed: f_read = f_true * claimed / made; 50 * 44100 / 48000 = 45.94, 60 * 48000 / 44100 = 65.31 and so on. */
static void mains_off_by_the_ratio_of_two_rates_tells_the_other_one(void **state)
{
    (void)state;
    assert_close(thrum_rate_made_at(50.0 * 44100 / 48000, 44100), 48000, 0.1);
    assert_close(thrum_rate_made_at(60.0 * 44100 / 48000 + 0.1, 44100), 48000, 0.1);
    assert_close(thrum_rate_made_at(50.0 * 48000 / 44100 - 0.1, 48000), 44100, 0.1);
    assert_close(thrum_rate_made_at(60.0 * 48000 / 44100, 96000), 88200, 0.1);
}

static void grids_and_generators_are_left_alone(void **state)
{
    (void)state;
    const double hz[] = {0.0, 49.8, 50.0, 50.2, 59.8, 60.0, 60.2, 61.5, 58.0, 52.0, 47.0};
    for (int i = 0; i < 11; i++)
        assert_close(thrum_rate_made_at(hz[i], 48000), 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mains_off_by_the_ratio_of_two_rates_tells_the_other_one),
        cmocka_unit_test(grids_and_generators_are_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
