/* thrum inputs where the sound system that comes first has no input and another one has: against the stand-in for PortAudio,
 * whose own "default input" is then none, as the real one's may be. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "portaudio_standin.h"
#include "standin_source.h"

/* Loudspeakers on the first host API; on the second one a monitor, and the probe's card. */
#define SECOND_HAS_ONE                                                                                       \
    "device HDMI 0;channels 0;outputs 2;device Speakers;channels 0;outputs 2;"                               \
    "device Monitor of Speakers;api 1;device Line In;api 1;channels 1;rate 44100;default -1"

/* Runs the command; what it prints is in text. */
static int run_inputs(char *text, size_t size, const char *option)
{
    char name[] = "/tmp/thrum-inputs-XXXXXX", *argv[] = {(char *)option, NULL};
    int file = mkstemp(name), kept = dup(STDOUT_FILENO);
    assert_true(file >= 0 && kept >= 0 && unlink(name) == 0);
    fflush(stdout);
    dup2(file, STDOUT_FILENO);
    int code = command_inputs.run(&command_inputs, option ? 1 : 0, argv);
    fflush(stdout);
    dup2(kept, STDOUT_FILENO);
    ssize_t n = pread(file, text, size - 1, 0);
    text[n > 0 ? n : 0] = 0;
    close(kept);
    close(file);
    return code;
}

static void inputs_of_every_sound_system_are_listed(void **state)
{
    (void)state;
    char text[4096];
    standin_begin(SECOND_HAS_ONE);
    assert_int_equal(run_inputs(text, sizeof text, NULL), CODE_DONE);
    assert_non_null(strstr(text, "\n* JACK: Line In: 1 channel, 44100 Hz, default\n"));
    assert_non_null(strstr(text, "  JACK: Monitor of Speakers: 2 channels"));
    assert_null(strstr(text, "ALSA"));
    assert_int_equal(run_inputs(text, sizeof text, "--json"), CODE_DONE);
    assert_non_null(strstr(text, "\"JACK: Line In\""));
    standin_end();
}

static void the_only_input_is_opened_by_default_whatever_system_has_it(void **state)
{
    (void)state;
    static const char *const names[] = {NULL, "", "default", "line in"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct thrum_source *source = standin_open(SECOND_HAS_ONE, names[i]);
        assert_string_equal(thrum_source_info(source)->name, "JACK: Line In");
        assert_close(thrum_source_info(source)->rate_hz, 44100.0, 0.0);
        standin_close(source);
    }
}

/* The first system's default may also be a device that only plays. */
static void a_default_that_only_plays_is_no_input(void **state)
{
    (void)state;
    char text[4096];
    const char *script = "device HDMI 0;channels 0;outputs 2;device Line In;api 1;default 0";
    standin_begin(script);
    assert_int_equal(run_inputs(text, sizeof text, NULL), CODE_DONE);
    assert_non_null(strstr(text, "* JACK: Line In: 2 channels"));
    standin_end();
    struct thrum_source *source = standin_open(script, NULL);
    assert_string_equal(thrum_source_info(source)->name, "JACK: Line In");
    standin_close(source);
}

static void none_on_any_system_is_said(void **state)
{
    (void)state;
    char text[4096];
    standin_begin("device HDMI 0;channels 0;outputs 2;device Speakers;api 1;channels 0;outputs 2;default -1");
    assert_int_equal(run_inputs(text, sizeof text, NULL), CODE_DEVICE);
    assert_string_equal(text, "");
    standin_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(inputs_of_every_sound_system_are_listed),
        cmocka_unit_test(the_only_input_is_opened_by_default_whatever_system_has_it),
        cmocka_unit_test(a_default_that_only_plays_is_no_input),
        cmocka_unit_test(none_on_any_system_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
