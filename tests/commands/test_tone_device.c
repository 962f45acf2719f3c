/* A voice played against the stand-in for PortAudio, on a virtual clock: nothing here waits. */
#include "check.h"
#include "commands/command.h"
#include "commands/tone_play.h"
#include "portaudio_standin.h"
#include "signal/keyed.h"

static const struct thrum_voice *voice(void)
{
    static struct thrum_voice beep;
    beep = thrum_voice_beep(1025.0, 0.25, 0.25);
    return &beep;
}

static int play(const char *script, double for_s, struct thrum_message *message)
{
    struct sound_host host = standin_host();
    struct tone_play_config config = {
        .host = &host, .voice = voice(), .rate_hz = 48000.0, .level_dbfs = -6.0, .for_s = for_s};
    struct thrum_output *output;
    standin_begin(script);
    int code = tone_play_open(&config, &output, message);
    return code == CODE_DONE ? tone_play(&config, output, message) : code;
}

static void what_is_played_is_the_voice_from_its_first_step_to_a_whole_cycle(void **state)
{
    (void)state;
    static float want[96000];
    struct thrum_keyed keyed;
    struct thrum_message message = {.text = ""};
    assert_int_equal(play("device phones;outputs 2", 2.1, &message), CODE_DONE);
    assert_string_equal(message.text, "");
    thrum_keyed_start(&keyed, voice(), 48000.0, -6.0);
    thrum_keyed_make(&keyed, want, 96000); /* 2.1 s are nearest to four cycles of half a second */
    assert_true(standin_played() >= 96000);
    for (uint64_t i = 0; i < standin_played(); i++)
        assert_close(standin_played_sample(i), i < 96000 ? want[i] : 0.0f, 1e-6);
    standin_end();
}

static void without_an_output_it_says_so(void **state)
{
    (void)state;
    struct thrum_message message = {.text = ""};
    assert_int_equal(play("device mic", 2.0, &message), CODE_DEVICE);
    assert_true(message.text[0] != 0);
    standin_end();
}

static void an_output_that_goes_ends_it(void **state)
{
    (void)state;
    static const char *const scripts[] = {"device phones;outputs 2;write_error_after 24000 -9988",
                                          "device phones;outputs 2;deaf_after 24000"};
    for (int i = 0; i < 2; i++) {
        struct thrum_message message = {.text = ""};
        assert_int_equal(play(scripts[i], 0.0, &message), CODE_DEVICE); /* it would play for ever else */
        assert_true(message.text[0] != 0);
        standin_end();
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_played_is_the_voice_from_its_first_step_to_a_whole_cycle),
        cmocka_unit_test(without_an_output_it_says_so),
        cmocka_unit_test(an_output_that_goes_ends_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
