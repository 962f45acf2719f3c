/* What comes in is finite, bounded and one channel. */
#include "check.h"

#include <string.h>

#include "listen/door.h"

/* One sample per bit pattern that is easily taken for a number. IEEE 754: all exponent bits set is no number. */
static float from_bits(uint32_t bits)
{
    float x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static void what_is_not_finite_becomes_zero_and_is_counted(void **state)
{
    (void)state;
    const float in[] = {NAN, -NAN, INFINITY, -INFINITY, from_bits(0x7F800001u), from_bits(0xFFFFFFFFu), 0.5f};
    float out[7];
    assert_int_equal(thrum_door_take(in, 7, 1, 0, out), 6);
    for (int i = 0; i < 6; i++)
        assert_true(out[i] == 0.0f);
    assert_true(out[6] == 0.5f);
}

static void what_is_finite_passes_to_the_last_bit(void **state)
{
    (void)state;
    const float in[] = {1.0f, -1.0f, 7.999f, -7.999f, from_bits(0x00000001u), -0.0f, 1e-38f};
    float out[7];
    assert_int_equal(thrum_door_take(in, 7, 1, 0, out), 0);
    assert_memory_equal(in, out, sizeof in);
}

static void what_is_beyond_eight_is_limited(void **state)
{
    (void)state;
    const float in[] = {8.1f, -8.1f, 3e38f, -3e38f};
    float out[4];
    assert_int_equal(thrum_door_take(in, 4, 1, 0, out), 0);
    for (int i = 0; i < 4; i++)
        assert_true(out[i] == (i % 2 ? -8.0f : 8.0f));
}

static void the_channel_asked_for_is_taken(void **state)
{
    (void)state;
    float in[12], out[4];
    for (int i = 0; i < 12; i++)
        in[i] = (float)(i % 3) + 0.01f * (float)(i / 3);
    in[4] = NAN; /* channel 1, frame 1 */
    for (int c = 0; c < 3; c++) {
        assert_int_equal(thrum_door_take(in, 4, 3, c, out), c == 1 ? 1 : 0);
        for (int i = 0; i < 4; i++)
            assert_true(out[i] == (c == 1 && i == 1 ? 0.0f : (float)c + 0.01f * (float)i));
    }
}

static void no_samples_are_no_fault(void **state)
{
    (void)state;
    float nothing = 0.0f;
    assert_int_equal(thrum_door_take(&nothing, 0, 1, 0, &nothing), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_not_finite_becomes_zero_and_is_counted),
        cmocka_unit_test(what_is_finite_passes_to_the_last_bit),
        cmocka_unit_test(what_is_beyond_eight_is_limited),
        cmocka_unit_test(the_channel_asked_for_is_taken),
        cmocka_unit_test(no_samples_are_no_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
