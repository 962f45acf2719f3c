/* Proposed voices keep their distances. The distances are measured here by a plain count of its own. */
#include "check.h"

#include <string.h>

#include "signal/voiceset.h"

static double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* From h times any mains within 1 % of its number, tried in steps of a hundredth of a percent. */
static double from_mains(double hz, double mains_hz)
{
    double nearest = 1e9;
    for (int off = -100; off <= 100; off++)
        for (int h = 1; h <= 80; h++)
            nearest = smaller(nearest, fabs(hz - h * mains_hz * (1.0 + off * 1e-4)));
    return nearest;
}

static void keeps_its_distances(int n, double mains_hz)
{
    struct thrum_voice v[THRUM_MAX_SENDERS];
    assert_int_equal(thrum_voiceset_propose(n, mains_hz, v), THRUM_OK);
    for (int i = 0; i < n; i++) {
        double hz = v[i].tones_hz[0];
        assert_int_equal(thrum_voice_check(&v[i], NULL), THRUM_OK);
        assert_between(hz, 400.0, 2000.0);
        assert_true(from_mains(hz, mains_hz) >= 8.0);
        assert_int_equal(v[i].name[0], 'a' + i);
        assert_int_equal(v[i].name[1], 0);
        for (int j = 0; j < n; j++) {
            double other = v[j].tones_hz[0];
            if (j == i)
                continue;
            assert_true(fabs(hz - other) >= 100.0);
            assert_true(fabs(v[i].step[0].s - v[j].step[0].s) > 0.019);
            for (int k = 2; k <= 25; k++)
                assert_true(fabs(hz - k * other) >= 20.0);
            for (int m = 0; m < n; m++)
                if (m != i && m != j)
                    assert_true(fabs(2.0 * other - v[m].tones_hz[0] - hz) >= 20.0);
        }
    }
}

static void every_set_keeps_its_distances(void **state)
{
    (void)state;
    for (int n = 1; n <= THRUM_MAX_SENDERS; n++) {
        keeps_its_distances(n, 50.0);
        keeps_its_distances(n, 60.0);
    }
}

static void other_mains_have_sets_too(void **state)
{
    (void)state;
    for (double mains_hz = 45.0; mains_hz <= 66.0; mains_hz += 1.5)
        keeps_its_distances(4, mains_hz);
}

static void the_room_of_known_tones_is_measured(void **state)
{
    (void)state;
    /* By hand; what each is near to stands beside it. */
    const double near_mains[] = {1010.5, 700.0 + 25.0};
    struct thrum_voiceset_room room = thrum_voiceset_room(near_mains, 2, 50.0);
    assert_close(room.mains_hz, 0.5, 1e-9); /* 20 x 50.5 = 1010 */
    assert_close(room.apart_hz, 285.5, 1e-9);
    assert_close(room.harmonic_hz, 439.5, 1e-9); /* 2 x 725 = 1450 */
    assert_true(isinf(room.mixed_hz));
    const double mixing[] = {900.0, 1000.0, 1107.0};
    assert_close(thrum_voiceset_room(mixing, 3, 50.0).mixed_hz, 7.0, 1e-9); /* 2 x 1000 - 900 = 1100 */
    const double overtone[] = {500.0, 1490.0};
    assert_close(thrum_voiceset_room(overtone, 2, 60.0).harmonic_hz, 10.0, 1e-9); /* 3 x 500 */
    assert_close(thrum_voiceset_room(overtone, 1, 50.0).mains_hz, 0.0, 0.0);      /* 10 x 50 */
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct thrum_voice v[THRUM_MAX_SENDERS];
    assert_int_equal(thrum_voiceset_propose(0, 50.0, v), THRUM_ERR_ARG);
    assert_int_equal(thrum_voiceset_propose(9, 50.0, v), THRUM_ERR_ARG);
    assert_int_equal(thrum_voiceset_propose(2, 44.0, v), THRUM_ERR_ARG);
    assert_int_equal(thrum_voiceset_propose(2, (double)NAN, v), THRUM_ERR_ARG);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_set_keeps_its_distances),
        cmocka_unit_test(other_mains_have_sets_too),
        cmocka_unit_test(the_room_of_known_tones_is_measured),
        cmocka_unit_test(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
