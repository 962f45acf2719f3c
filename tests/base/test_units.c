/* Decibels: the level convention and its ends. */
#include "check.h"
#include "thrum/units.h"

static double rms_of_sine(double amplitude)
{
    double sum = 0.0;
    enum { N = 48 };
    for (int i = 0; i < N; i++)
        sum += pow(amplitude * sin(2.0 * THRUM_PI * 5 * i / N), 2.0);
    return sqrt(sum / N);
}

/* AES17 (from memory): a sine whose peaks reach full scale is 0 dBFS, so its RMS of 1/sqrt 2 reads +3.0103 dB on top. */
static void full_scale_sine_reads_0_dbfs(void **state)
{
    (void)state;
    assert_close(thrum_db_from_amplitude(1.0), 0.0, 1e-12);
    assert_close(thrum_db_from_amplitude(rms_of_sine(1.0)) + 3.0103, 0.0, 1e-4);
    assert_close(thrum_db_from_amplitude(0.1), -20.0, 1e-12);
    assert_close(thrum_db_from_power(0.01), -20.0, 1e-12);
}

/* Computed: 20 lg 2, 10 lg 2, 20 lg(1/32768) and the reorder tone's duty of one half (10 lg 0.5). */
static void round_numbers_have_their_closed_forms(void **state)
{
    (void)state;
    assert_close(thrum_db_from_amplitude(2.0), 6.020599913, 1e-9);
    assert_close(thrum_db_from_power(0.5), -3.010299957, 1e-9);
    assert_close(thrum_db_from_amplitude(1.0 / 32768.0), -90.308998699, 1e-9);
    assert_close(thrum_amplitude_from_db(-6.0), 0.501187234, 1e-9);
    assert_close(thrum_power_from_db(-6.0), 0.251188643, 1e-9);
}

static void what_has_no_level_reads_the_floor(void **state)
{
    (void)state;
    const double none[] = {0.0, -0.0, -1.0, (double)NAN, -(double)INFINITY, 1e-300};
    for (int i = 0; i < 6; i++) {
        assert_true(thrum_db_from_amplitude(none[i]) == THRUM_FLOOR_DBFS);
        assert_true(thrum_db_from_power(none[i]) == THRUM_FLOOR_DBFS);
    }
}

static void the_floor_is_no_step(void **state)
{
    (void)state;
    assert_close(thrum_db_from_amplitude(1.001e-10), -199.99, 0.01);
    assert_true(thrum_db_from_amplitude(0.999e-10) == THRUM_FLOOR_DBFS);
    assert_close(thrum_db_from_power(1.001e-20), -199.996, 0.01);
}

static void db_and_back_is_the_same_number(void **state)
{
    (void)state;
    for (double db = -199.0; db <= 40.0; db += 0.37) {
        assert_close(thrum_db_from_amplitude(thrum_amplitude_from_db(db)), db, 1e-10);
        assert_close(thrum_db_from_power(thrum_power_from_db(db)), db, 1e-10);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_scale_sine_reads_0_dbfs),
        cmocka_unit_test(round_numbers_have_their_closed_forms),
        cmocka_unit_test(what_has_no_level_reads_the_floor),
        cmocka_unit_test(the_floor_is_no_step),
        cmocka_unit_test(db_and_back_is_the_same_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
