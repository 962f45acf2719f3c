/* The sound output against a stand-in for PortAudio, on a virtual clock: nothing here waits. */
#include <math.h>
#include <string.h>

#include "check.h"
#include "portaudio_standin.h"
#include "sound/output.h"

#define RATE 48000.0

static struct thrum_output *open_output(const char *script, const char *name, double rate_hz)
{
    struct thrum_output *output = NULL;
    struct thrum_message message;
    struct sound_host host = standin_host();
    struct thrum_output_config config = {.name = name, .rate_hz = rate_hz};
    standin_begin(script);
    if (output_open(&host, &config, &output, &message) != THRUM_OK)
        fail_msg("%s", message.text);
    return output;
}

static void refused(const char *script, const char *name, const char *words)
{
    enum thrum_status want = strstr(words, "'; '") ? THRUM_ERR_ARG : THRUM_ERR_DEVICE; /* never guess */
    struct thrum_output *output = NULL;
    struct thrum_message message;
    struct sound_host host = standin_host();
    struct thrum_output_config config = {.name = name};
    standin_begin(script);
    assert_int_equal(output_open(&host, &config, &output, &message), want);
    assert_null(output);
    if (!strstr(message.text, words))
        fail_msg("'%s' is not in '%s'", words, message.text);
    standin_end();
}

static float wave(size_t i)
{
    return (float)(i % 20000) / 20000.0f;
}

static void all_that_is_written_is_played_once_and_in_order(void **state)
{
    (void)state;
    static float samples[48000];
    struct thrum_message message;
    struct thrum_output *o = open_output("device mic;device phones;outputs 2", NULL, 0.0);
    for (size_t i = 0; i < 48000; i++)
        samples[i] = wave(i);
    for (size_t at = 0; at < 48000; at += 777) {
        size_t n = 48000 - at < 777 ? 48000 - at : 777;
        assert_int_equal(thrum_output_write(o, samples + at, n, &message), THRUM_OK);
    }
    assert_string_equal(thrum_output_name(o), "ALSA: phones");
    assert_close(thrum_output_rate_hz(o), RATE, 0.0);
    thrum_output_close(o, true);
    size_t wrong = 0;
    for (uint64_t i = 0; i < standin_played(); i++)
        wrong += fabsf(standin_played_sample(i) - (i < 48000 ? samples[i] : 0.0f)) > 0.0f;
    assert_int_equal(wrong, 0);
    /* What is in the device's buffer when it is stopped is never heard: as much silence must lie behind. */
    assert_true(standin_played() >= 48000 + 2 * 4800);
    assert_int_equal(standin_stop_calls(), 0);
    standin_end();
}

static void samples_are_limited_and_nan_is_silent(void **state)
{
    (void)state;
    const float samples[] = {2.0f, -3.0f, NAN, 0.5f};
    const float played[] = {1.0f, -1.0f, 0.0f, 0.5f};
    struct thrum_output *o = open_output("device phones;outputs 1", NULL, 0.0);
    assert_int_equal(thrum_output_write(o, samples, 4, NULL), THRUM_OK);
    for (uint64_t i = 0; i < 4; i++)
        assert_close((double)standin_played_sample(i), (double)played[i], 0.0);
    thrum_output_close(o, false);
    standin_end();
}

static void an_offer_never_waits(void **state)
{
    (void)state;
    static float samples[9600];
    size_t taken;
    struct thrum_output *o = open_output("device phones;outputs 2;room 4800", NULL, 0.0);
    double before = standin_now_s();
    assert_int_equal(thrum_output_offer(o, samples, 9600, &taken), THRUM_OK);
    assert_int_equal(taken, 4800);
    assert_int_equal(thrum_output_offer(o, samples, 9600, &taken), THRUM_OK);
    assert_int_equal(taken, 0);
    assert_close(standin_now_s(), before, 0.0);
    thrum_output_close(o, false);
    standin_end();
}

static void a_device_that_stops_taking_sound_is_told(void **state)
{
    (void)state;
    static float samples[96000];
    struct thrum_message message;
    struct thrum_output *o = open_output("device phones;outputs 2;deaf_after 24000", NULL, 0.0);
    assert_int_equal(thrum_output_write(o, samples, 96000, &message), THRUM_ERR_DEVICE);
    assert_non_null(strstr(message.text, "phones"));
    assert_true(standin_now_s() < 3.0);
    thrum_output_close(o, true);
    assert_true(standin_now_s() < 3.0);
    standin_end();

    o = open_output("device phones;outputs 2;write_error_after 4800 -9999", NULL, 0.0);
    assert_int_equal(thrum_output_write(o, samples, 96000, &message), THRUM_ERR_DEVICE);
    thrum_output_close(o, true);
    standin_end();
}

static void running_dry_is_counted(void **state)
{
    (void)state;
    static float samples[480];
    struct sound_host host = standin_host();
    struct thrum_output *o = open_output("device phones;outputs 2", NULL, 0.0);
    assert_int_equal(thrum_output_write(o, samples, 480, NULL), THRUM_OK);
    host.sleep_ns(NULL, 200000000u);
    assert_int_equal(thrum_output_write(o, samples, 480, NULL), THRUM_OK);
    assert_int_equal((int)thrum_output_gaps(o), 1);
    thrum_output_close(o, false);
    standin_end();
}

static void outputs_that_do_not_open_have_words(void **state)
{
    (void)state;
    refused("device mic", NULL, "no sound output found");
    refused("device mic;device phones;outputs 2", "speaker", "'ALSA: phones'");
    refused("device mic;device hall;outputs 2;device phones;outputs 2;default_output -1", NULL,
            "'ALSA: hall'; 'ALSA: phones'");
    refused("device USB;outputs 2;device USB;outputs 2", "usb", "'ALSA: USB'; 'ALSA: USB #2'");
    refused("device phones;outputs 2;open_error -9985", NULL, "in use by another program");
    refused("device phones;outputs 2;open_error -9999", NULL, "the output 'ALSA: phones' cannot be opened");
    refused("device phones;outputs 2;start_error -9999", NULL, "cannot be opened");
    refused("device phones;outputs 2;start_blocks", NULL, "does not start");
    refused("device phones;outputs 2;init_blocks", NULL, "does not answer");
}

static void a_name_or_part_of_it_chooses(void **state)
{
    (void)state;
    struct thrum_output *o =
        open_output("device hall;outputs 2;device phones;outputs 1;only_rate 44100", "PHONE", 0.0);
    assert_string_equal(thrum_output_name(o), "ALSA: phones");
    assert_close(thrum_output_rate_hz(o), 44100.0, 0.0);
    thrum_output_close(o, false);
    standin_end();
    o = open_output("device mic;device phones;outputs 2;default_output -1", NULL, 0.0);
    assert_string_equal(thrum_output_name(o), "ALSA: phones"); /* the only one */
    thrum_output_close(o, false);
    standin_end();
    o = open_output("device USB;outputs 2;device USB;outputs 2", "usb #2", 0.0);
    assert_string_equal(thrum_output_name(o), "ALSA: USB #2");
    assert_close(thrum_output_latency_s(o), 0.1, 0.0);
    thrum_output_close(o, false);
    standin_end();
}

static void numbers_out_of_range_are_refused(void **state)
{
    (void)state;
    struct thrum_output *output = NULL;
    struct sound_host host = standin_host();
    const struct thrum_output_config bad[] = {
        {.rate_hz = 100.0}, {.rate_hz = (double)NAN}, {.latency_s = 9.0}, {.latency_s = -1.0}};
    standin_begin("device phones;outputs 2");
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(output_open(&host, &bad[i], &output, NULL), THRUM_ERR_ARG);
        assert_null(output);
    }
    standin_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_that_is_written_is_played_once_and_in_order),
        cmocka_unit_test(samples_are_limited_and_nan_is_silent),
        cmocka_unit_test(an_offer_never_waits),
        cmocka_unit_test(a_device_that_stops_taking_sound_is_told),
        cmocka_unit_test(running_dry_is_counted),
        cmocka_unit_test(outputs_that_do_not_open_have_words),
        cmocka_unit_test(a_name_or_part_of_it_chooses),
        cmocka_unit_test(numbers_out_of_range_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
