/* What is heard, in one word, while the probe comes to a wire, rests on it and leaves it. */
#include "check.h"

#include <stdlib.h>

#include "signals.h"
#include "thrum/listen.h"

#define RATE_HZ 8000.0
#define REST_S  2.5
#define LIFT_S  1.5

/* Walks over `touches` rests with the sender `sounds`, and counts how often each word stood, each tenth of a second. first_s: of a touch, until
 * another cadence was said; -1: never. */
static void walk(const struct thrum_voice *learned, const struct thrum_voice *sounds, int touches,
                 double rest_s, int *times, double *first_s)
{
    struct thrum_listener_config config = {
        .rate_hz = RATE_HZ, .channels = 1, .channel = -1, .n_voices = 1, .voice = {*learned}, .bar = true};
    struct thrum_listener *listener;
    struct rng rng = rng_seeded(6001);
    size_t lift = (size_t)(LIFT_S * RATE_HZ), n = lift + (size_t)(rest_s * RATE_HZ), tenth = 800;
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    *first_s = -1.0;
    for (int t = 0; t < touches; t++) {
        struct sender sender = {.voice = *sounds, .dbfs = -50.0 - 0.5 * t, .start_s = rng_uniform(&rng)};
        for (size_t i = 0; i < n; i++)
            x[i] = 0.0f;
        add_noise(&rng, x, n, 1e-4);
        add_sender(&rng, x + lift, n - lift, RATE_HZ, &sender);
        for (size_t i = 0; i + tenth <= n; i += tenth) {
            struct thrum_now now;
            thrum_listener_feed(listener, x + i, tenth);
            thrum_listener_now(listener, &now);
            times[now.heard]++;
            if (now.heard == THRUM_HEARD_OTHER_CADENCE && *first_s < 0.0)
                *first_s = (double)(i + tenth) / RATE_HZ - LIFT_S;
        }
    }
    thrum_listener_destroy(listener);
    free(x);
}

/* The start and the end of a touch hold less than the cadence: that is not another one. */
static void the_senders_own_beeps_are_never_another_cadence(void **state)
{
    (void)state;
    int times[16] = {0};
    double first_s;
    struct thrum_voice voice = thrum_voice_beep(1037, 0.25, 0.25);
    walk(&voice, &voice, thrum_trials(20), REST_S, times, &first_s);
    assert_int_equal(times[THRUM_HEARD_OTHER_CADENCE], 0);
    assert_true(times[THRUM_HEARD_TONE] > 0 && times[THRUM_HEARD_NO_TONE] > 0);
}

/* A short beep each second, on the learned tone: said, but not before it was heard for about as long as is looked at. */
static void another_cadence_is_said_once_it_is_known(void **state)
{
    (void)state;
    int times[16] = {0};
    double first_s;
    struct thrum_voice voice = thrum_voice_beep(1037, 0.25, 0.25), other = thrum_voice_beep(1037, 0.25, 0.75);
    walk(&voice, &other, 1, 10.0, times, &first_s);
    assert_between(first_s, 1.5, 5.0);
    assert_true(times[THRUM_HEARD_OTHER_CADENCE] > 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_senders_own_beeps_are_never_another_cadence),
        cmocka_unit_test(another_cadence_is_said_once_it_is_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
