/* Real places without a sender: nothing is learned there, and voices are heard no oftener than once in a thousand times in insects, rain, wind, typing, clocks and
 * streets. Machines and old recordings with hum are not free of false alarms; the benchmark counts those (M7). */
#include <stdio.h>
#include <stdlib.h>

#include "check.h"
#include "real_sound.h"
#include "signals.h"
#include "thrum/learn.h"

#define TOUCH_S 3.0
#define MOST    2 /* of 360 at 1 in 1000: more come by chance once in 170 times (Poisson) */

static const char *const nothing_to_learn[] = {"noise/aru_insects.wav",
                                               "noise/chainsaw_5-222524-A.ogg",
                                               "noise/fire_1-17565-A.ogg",
                                               "noise/forest_S4A03895_050000.flac",
                                               "noise/forest_S4A03895_120000.flac",
                                               "noise/heli_4-175000-A.ogg",
                                               "noise/keyboard_typing.flac",
                                               "noise/rain_2-73260-A.ogg",
                                               "noise/rain_4-161127-A.ogg",
                                               "noise/wind_snow_city.flac",
                                               "noise_gpl3/street_rasem2s2013_07_03_13_58_50.flac",
                                               "noise_gpl3/street_rdsem2s2013_07_03_14_08_10.flac",
                                               "noise_gpl3/street_rlsem5s2016_10_01_07_00_00.flac",
                                               "hum/hum50_dough_machine.flac",
                                               "hum/hum50_washing_machine.flac",
                                               "hum/pickup60_guit_em9.flac",
                                               "clicks/tick_3-171012-A.ogg",
                                               "hum/hum_loose_connection_49.54Hz.flac",
                                               "tone/ft8_wsjtx_191111_110115.wav"};

static void nothing_is_learned(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof nothing_to_learn / sizeof *nothing_to_learn; i++) {
        struct thrum_learned learned = real_learn(real_folder(), nothing_to_learn[i], 0.0, THRUM_LEARN_S);
        print_message("%s: %s\n", nothing_to_learn[i], thrum_not_voice_text(learned.what));
        assert_int_not_equal(learned.what, THRUM_VOICE_FOUND);
    }
}

static const char *const quiet_places[] = {
    "noise/aru_insects.wav",
    "noise/fire_1-17565-A.ogg",
    "noise/forest_S4A03895_050000.flac",
    "noise/forest_S4A03895_120000.flac",
    "noise/keyboard_typing.flac",
    "noise/rain_4-161127-A.ogg",
    "noise/wind_snow_city.flac",
    "noise_gpl3/street_rasem2s2013_07_03_13_58_50.flac",
    "noise_gpl3/street_rdsem2s2013_07_03_14_08_10.flac",
    "noise_gpl3/street_rlsem5s2016_10_01_07_00_00.flac",
    "clicks/tick_2-141584-A.ogg",
    "clicks/tick_4-175945-A.ogg",
    "clicks/tick_3-171012-A.ogg",
};

/* Eight voices anywhere in the band in every touch, touches that overlap by half. */
static void voices_are_hardly_ever_heard(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(7301);
    int asked = 0, heard = 0;
    for (size_t i = 0; i < sizeof quiet_places / sizeof *quiet_places; i++) {
        struct real_sound sound = real_read(real_folder(), quiet_places[i], 0.0, 60.0, true);
        size_t n = (size_t)(TOUCH_S * sound.rate_hz);
        for (size_t at = 0; at + n <= sound.n; at += n / 2) {
            struct thrum_voice voices[THRUM_MAX_SENDERS];
            for (int v = 0; v < THRUM_MAX_SENDERS; v++)
                voices[v] = thrum_voice_beep(rng_between(&rng, 320.0, 3300.0), 0.25, 0.25);
            struct thrum_reading reading =
                real_measure(sound.x + at, n, sound.rate_hz, voices, THRUM_MAX_SENDERS);
            for (int v = 0; v < THRUM_MAX_SENDERS; v++) {
                asked++;
                heard += reading.strength[v].heard;
                if (reading.strength[v].heard)
                    print_message("%s: %.1f Hz heard\n", quiet_places[i], voices[v].tones_hz[0]);
            }
        }
        free(sound.x);
    }
    print_message("heard %d of %d times\n", heard, asked);
    assert_true(asked > 300);
    assert_true(heard <= MOST);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_learned),
        cmocka_unit_test(voices_are_hardly_ever_heard),
    };
    return real_folder() ? cmocka_run_group_tests(tests, NULL, NULL) : REAL_SKIPPED;
}
