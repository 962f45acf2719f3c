/* When a keyed tone sounds: told within a window, and never of what is steady. */
#include "check.h"

#include "signal/sounding.h"
#include "signals.h"

#include <stdlib.h>

#define RATE 8000.0
#define HZ   1037.0
enum { WINDOW = 64, WINDOWS = 1250, N = WINDOW * WINDOWS };

/* Share of the windows told to sound: [0] of those wholly in beeps, [1] of those wholly in pauses. */
static void told(const float *x, double on_s, double share[2])
{
    struct thrum_sounding s = thrum_sounding_begin(HZ, RATE);
    double n[2] = {0.0, 0.0}, on[2] = {0.0, 0.0};
    for (int w = 0; w < WINDOWS; w++) {
        double from = fmod(w * WINDOW / RATE, 2.0 * on_s), to = from + WINDOW / RATE;
        thrum_sounding_feed(&s, x + (size_t)w * WINDOW, 13);
        thrum_sounding_feed(&s, x + (size_t)w * WINDOW + 13, WINDOW - 13);
        thrum_sounding_end_window(&s);
        int pause = from >= on_s;
        if (w < 125 || (pause ? to > 2.0 * on_s : to > on_s))
            continue; /* the first second, and windows with an edge in them */
        n[pause] += 1.0;
        on[pause] += s.on;
    }
    share[0] = on[0] / n[0];
    share[1] = on[1] / n[1];
}

static void beeps_sound_and_pauses_do_not(void **state)
{
    (void)state;
    const double on_s[] = {0.04, 0.1, 0.25};
    float *x = calloc(N, sizeof *x);
    assert_non_null(x);
    for (int i = 0; i < 3; i++) {
        struct rng rng = rng_seeded(5300 + (uint64_t)i);
        struct sender sender = {.voice = thrum_voice_beep(HZ, on_s[i], on_s[i]), .dbfs = -40.0};
        double share[2];
        for (int t = 0; t < N; t++)
            x[t] = 0.0f;
        add_sender(&rng, x, N, RATE, &sender);
        add_noise(&rng, x, N, 1e-4); /* in a window 55 dB below the tone */
        told(x, on_s[i], share);
        assert_between(share[0], 0.98, 1.0);
        assert_between(share[1], 0.0, 0.06);
    }
    free(x);
}

static void what_is_steady_does_not_sound(void **state)
{
    (void)state;
    float *x = calloc(N, sizeof *x);
    assert_non_null(x);
    struct rng rng = rng_seeded(5310);
    double share[2];
    told(x, 0.25, share); /* digital silence */
    assert_close(share[0] + share[1], 0.0, 0.0);
    add_noise(&rng, x, N, 0.01);
    told(x, 0.25,
         share); /* power is exponential; its fifth part lies below 0.22, 12 dB above that 3 in 100 */
    assert_between(share[0], 0.0, 0.1);
    assert_between(share[1], 0.0, 0.1);
    for (int t = 0; t < N; t++)
        x[t] = 0.1f * (float)cos(2.0 * 3.14159265358979 * (HZ + 3.0) * t / RATE);
    told(x, 0.25, share); /* a steady tone, or hum that is left */
    assert_close(share[0] + share[1], 0.0, 0.0);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(beeps_sound_and_pauses_do_not),
                                       cmocka_unit_test(what_is_steady_does_not_sound)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
