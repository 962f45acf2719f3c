/* Which input is opened for a name, and with which words none is; against a stand-in for PortAudio. */
#include <string.h>

#include "check.h"
#include "portaudio_standin.h"
#include "sound/inputs.h"
#include "standin_source.h"

static void errors_in_opening_have_words_and_leave_nothing_open(void **state)
{
    (void)state;
    assert_int_equal(standin_refused("device a;init_error -9999", NULL, "does not start"), THRUM_ERR_DEVICE);
    assert_int_equal(
        standin_refused("device a;open_error -9985", NULL, "in use by another program; try 'default'"),
        THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;open_error -9999", NULL, "cannot be opened"),
                     THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;open_error -9997", NULL, "cannot be opened"),
                     THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;start_error -9999", NULL, "cannot be opened"),
                     THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("", NULL, "no sound input found"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("default -1", "usb", "no sound input found"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;channels 0", NULL, "no sound input found"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device Monitor of Speakers", NULL, "only monitors"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a", "webcam", "no sound input fits 'webcam'"), THRUM_ERR_DEVICE);
}

static void assert_opens(const char *script, const char *name, const char *opened)
{
    struct thrum_source *source = standin_open(script, name);
    assert_string_equal(thrum_source_info(source)->name, opened);
    standin_close(source);
}

static void a_part_of_the_name_is_enough_in_any_case(void **state)
{
    (void)state;
    const char *two = "device HDMI 0;device USB Audio Device;api 1;device Pr\xC3\xBC"
                      "fspitze;default 0";
    assert_opens(two, "usb", "JACK: USB Audio Device");
    assert_opens(two, "AUDIO DEV", "JACK: USB Audio Device");
    assert_opens(two, "jack", "JACK: USB Audio Device");
    assert_opens(two,
                 "r\xC3\xBC"
                 "f",
                 "ALSA: Pr\xC3\xBC"
                 "fspitze");
    assert_opens(two, "", "ALSA: HDMI 0");
    assert_opens(two, "default", "ALSA: HDMI 0");
    assert_opens("device pulse;device default;default 0", "default", "ALSA: default");
    assert_opens("device default;device sysdefault", "default", "ALSA: default");
    assert_opens("device 1234567890123456789012345678901", "90123456789012345",
                 "ALSA: 1234567890123456789012345678901");
}

static void equal_names_are_listed_never_guessed(void **state)
{
    (void)state;
    const char *twins = "device USB Audio;device Webcam;device USB Audio";
    assert_int_equal(standin_refused(twins, "usb audio", "'ALSA: USB Audio'; 'ALSA: USB Audio #2'"),
                     THRUM_ERR_ARG);
    assert_int_equal(standin_refused(twins, "a", "several inputs fit"), THRUM_ERR_ARG);
    assert_opens(twins, "ALSA: USB Audio", "ALSA: USB Audio");
    assert_opens(twins, "usb audio #2", "ALSA: USB Audio #2");
}

static void wired_before_bluetooth_and_never_a_monitor_unasked(void **state)
{
    (void)state;
    assert_opens("device Monitor of Speakers;device USB Audio;default 0", NULL, "ALSA: USB Audio");
    assert_opens("device bluez_input.00_11;device USB Audio;default 0", NULL, "ALSA: USB Audio");
    assert_opens("device Monitor of Speakers;device USB Audio;default 0", "monitor",
                 "ALSA: Monitor of Speakers");
    assert_opens("device a;channels 0;device Line In;api 1;default -1", NULL,
                 "JACK: Line In"); /* no default at all */
    struct thrum_source *source =
        standin_open("device Monitor of Speakers;device Headset Bluetooth;rate 16000", NULL);
    assert_true(thrum_source_info(source)->bluetooth);
    assert_non_null(strstr(thrum_source_info(source)->note, "Bluetooth"));
    standin_close(source);
    source = standin_open("device Monitor of Speakers", "monitor");
    assert_true(thrum_source_info(source)->monitor);
    assert_non_null(strstr(thrum_source_info(source)->note, "loudspeakers"));
    standin_close(source);
}

static void the_list_marks_what_each_input_is(void **state)
{
    (void)state;
    struct thrum_input inputs[4];
    struct thrum_message message;
    int count = -1;
    standin_begin(
        "device HDMI;channels 0;device Monitor of X;device USB Audio;rate nan;device USB Audio;channels 1;"
        "device bluez y;default 2");
    assert_int_equal(thrum_inputs_list(inputs, 4, &count, &message), THRUM_OK);
    assert_int_equal(count, 4);
    assert_string_equal(inputs[0].name, "ALSA: Monitor of X");
    assert_true(inputs[0].monitor);
    assert_true(inputs[1].is_default);
    assert_close(inputs[1].rate_hz, 0.0, 0.0);
    assert_string_equal(inputs[2].name, "ALSA: USB Audio #2");
    assert_int_equal(inputs[2].channels, 1);
    assert_true(inputs[3].bluetooth);
    assert_int_equal(thrum_inputs_list(NULL, 0, &count, &message), THRUM_OK);
    assert_int_equal(count, 4);
    standin_end();
    standin_begin("");
    assert_int_equal(thrum_inputs_list(inputs, 4, &count, &message), THRUM_OK);
    assert_int_equal(count, 0);
    standin_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(errors_in_opening_have_words_and_leave_nothing_open),
        cmocka_unit_test(a_part_of_the_name_is_enough_in_any_case),
        cmocka_unit_test(equal_names_are_listed_never_guessed),
        cmocka_unit_test(wired_before_bluetooth_and_never_a_monitor_unasked),
        cmocka_unit_test(the_list_marks_what_each_input_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
