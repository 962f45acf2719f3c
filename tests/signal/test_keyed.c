/* The sound of a voice: its level, its edges, and that it begins again without a jump. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signal/keyed.h"
#include "thrum/units.h"

enum { RATE = 48000, ALL = RATE * 4 };

static float made[ALL + RATE];

/* RMS while on, as a sine's level: full-scale sine = 0 dBFS (AES17). */
static double level_of(const float *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return 10.0 * log10(2.0 * sum / (double)n);
}

static void a_beep_has_the_level_and_the_length_asked_for(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1025.0, 0.2, 0.3);
    struct thrum_keyed keyed;
    thrum_keyed_start(&keyed, &voice, RATE, -3.0);
    thrum_keyed_make(&keyed, made, ALL);
    assert_close(level_of(made + RATE / 100, RATE / 10), -3.0, 0.01);
    for (int i = (int)(0.206 * RATE); i < (int)(0.499 * RATE); i++)
        assert_true(made[i] == 0.0f);
    /* A raised cosine is at half its height in the middle: 2.5 ms after the step begins, and after it ends. */
    double rise = 0.0, fall = 0.0;
    for (int i = 0; i < 48; i++) {
        rise = fmax(rise, fabs((double)made[i + 96]));
        fall = fmax(fall, fabs((double)made[i + 9696]));
    }
    assert_between(rise, 0.35 * 0.708, 0.65 * 0.708);
    assert_between(fall, 0.35 * 0.708, 0.65 * 0.708);
}

static void any_split_gives_the_same(void **state)
{
    (void)state;
    static float again[RATE];
    struct thrum_voice voice = thrum_voice_beep(740.0, 0.1, 0.15);
    struct thrum_keyed keyed;
    voice.n_tones = 2;
    voice.tones_hz[1] = 880.0;
    voice.step[1].tone = 1;
    thrum_keyed_start(&keyed, &voice, RATE, 0.0);
    thrum_keyed_make(&keyed, made, RATE);
    thrum_keyed_start(&keyed, &voice, RATE, 0.0);
    for (size_t at = 0, n = 1; at < RATE; at += n, n = n % 441 + 7)
        thrum_keyed_make(&keyed, again + at, n < RATE - at ? n : RATE - at);
    assert_memory_equal(made, again, sizeof again);
}

static void it_begins_again_without_a_jump(void **state)
{
    (void)state;
    struct thrum_voice voice = thrum_voice_beep(1175.0, 0.18, 0.18);
    struct thrum_keyed keyed;
    thrum_keyed_start(&keyed, &voice, RATE, -6.0);
    uint64_t whole = thrum_keyed_whole_frames(&keyed, 3.0);
    assert_int_equal(whole, 8 * 17280); /* 8 cycles of 0.36 s are nearer to 3 s than 9 */
    assert_int_equal(thrum_keyed_whole_frames(&keyed, 0.0), 17280);
    thrum_keyed_make(&keyed, made, whole + 480);
    for (size_t i = 0; i < 480; i++)
        assert_close(made[whole + i], made[i], 1e-6);
}

static void a_steady_tone_keeps_its_phase(void **state)
{
    (void)state;
    struct thrum_voice voice = {
        .name = "a", .n_tones = 1, .tones_hz = {1000.0}, .n_steps = 1, .step = {{0, 1.0}}, .steady = true};
    struct thrum_keyed keyed;
    assert_int_equal(thrum_voice_check(&voice, NULL), THRUM_OK);
    thrum_keyed_start(&keyed, &voice, RATE, -20.0);
    thrum_keyed_make(&keyed, made, ALL);
    for (size_t i = 0; i < ALL; i += 977)
        assert_close(made[i], 0.1 * sin(2.0 * THRUM_PI * fmod(1000.0 * (double)i / RATE, 1.0)), 1e-6);
    assert_int_equal(thrum_keyed_whole_frames(&keyed, 2.4), 2 * RATE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_beep_has_the_level_and_the_length_asked_for),
        cmocka_unit_test(any_split_gives_the_same),
        cmocka_unit_test(it_begins_again_without_a_jump),
        cmocka_unit_test(a_steady_tone_keeps_its_phase),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
