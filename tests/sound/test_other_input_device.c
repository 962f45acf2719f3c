/* A lost input that is looked for when somebody asks, and another one that takes its place; against a stand-in for
 * PortAudio, on a virtual clock. */
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "portaudio_standin.h"
#include "sound/source.h"
#include "standin_source.h"

#define DIES "quiet_after 48000;relist;"

/* Reads until that event comes, for 10 s at most; false when it does not. */
static bool read_until(struct thrum_source *source, enum thrum_source_event event,
                       struct thrum_source_block *block)
{
    static float samples[4096 * 8];
    for (double end_s = standin_now_s() + 10.0; standin_now_s() < end_s;) {
        thrum_source_read(source, samples, 4096, block);
        if (block->event == event)
            return true;
    }
    return false;
}

/* The next samples: two channels, frame by frame. */
static size_t read_some(struct thrum_source *source, float *samples, size_t frames)
{
    struct thrum_source_block block;
    size_t n = 0;
    for (double end_s = standin_now_s() + 2.0; n < frames && standin_now_s() < end_s; n += block.frames)
        thrum_source_read(source, samples + 2 * n, frames - n, &block);
    return n;
}

static void asked_for_it_is_looked_for_at_once(void **state)
{
    (void)state;
    struct thrum_source_block block;
    struct thrum_source *source = standin_open("device Probe;" DIES "device Probe;return_after 2", NULL);
    assert_int_equal(thrum_source_look(source, ""), THRUM_ERR_NOT_FOUND); /* nothing has gone */
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    float samples[2];
    while (standin_now_s() < 2.1) /* it was looked for at 1.4 s, and would be again at 3.4 s */
        thrum_source_read(source, samples, 1, &block);
    assert_int_equal(thrum_source_look(source, ""), THRUM_OK);
    assert_true(read_until(source, THRUM_SOURCE_BACK, &block));
    assert_between(standin_now_s(), 2.1, 2.4);
    standin_close(source);
}

static void what_is_there_is_offered_but_no_monitor(void **state)
{
    (void)state;
    struct thrum_source_block block;
    struct thrum_offers offers = {.n = 0};
    struct thrum_source *source =
        standin_open("device Probe;" DIES "device Monitor of speakers;device Webcam;device Line", NULL);
    assert_false(thrum_source_offers(source, &offers));
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    assert_false(read_until(source, THRUM_SOURCE_BACK, &block));
    assert_true(thrum_source_offers(source, &offers));
    assert_int_equal(offers.n, 2);
    assert_string_equal(offers.name[0], "ALSA: Webcam");
    assert_string_equal(offers.name[1], "ALSA: Line");
    standin_close(source);
}

static void another_one_takes_its_place_with_the_time_away(void **state)
{
    (void)state;
    struct thrum_source_block block;
    struct thrum_source *source = standin_open("device Probe;" DIES "device Webcam", NULL);
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    assert_int_equal(thrum_source_look(source, "ALSA: Webcam"), THRUM_OK);
    assert_true(read_until(source, THRUM_SOURCE_OTHER, &block));
    assert_string_equal(thrum_source_info(source)->name, "ALSA: Webcam");
    assert_non_null(strstr(block.message.text, "ALSA: Webcam"));
    assert_between((double)block.lost / 48000.0, standin_now_s() - 1.0 - 0.1, standin_now_s() - 1.0 + 0.1);
    assert_false(read_until(source, THRUM_SOURCE_GONE, &block)); /* it is watched like the first */
    standin_close(source);
}

static void one_channel_is_given_on_both(void **state)
{
    (void)state;
    float samples[2 * 480];
    struct thrum_source_block block;
    struct thrum_source *source =
        standin_open("device Probe;channels 2;" DIES "device Webcam;channels 1;only_channels 1", NULL);
    assert_int_equal(thrum_source_info(source)->channels, 2);
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    assert_int_equal(thrum_source_look(source, "ALSA: Webcam"), THRUM_OK);
    assert_true(read_until(source, THRUM_SOURCE_OTHER, &block));
    assert_int_equal(read_some(source, samples, 480), 480);
    for (size_t i = 0; i < 480; i++)
        assert_true(samples[2 * i] == samples[2 * i + 1] &&
                    samples[2 * i] == samples[0] + (float)i / 8388608.0f);
    standin_close(source);
}

/* It cannot be had: that is said, and the lost one is looked for on. */
static void assert_refused(const char *second, const char *name, const char *words)
{
    char script[200];
    struct thrum_source_block block;
    snprintf(script, sizeof script, "device Probe;" DIES "%s", second);
    struct thrum_source *source = standin_open(script, NULL);
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    assert_int_equal(thrum_source_look(source, name), THRUM_OK);
    assert_true(read_until(source, THRUM_SOURCE_GONE, &block));
    if (!strstr(block.message.text, words))
        fail_msg("'%s' is not in '%s'", words, block.message.text);
    int starts = standin_starts();
    assert_false(read_until(source, THRUM_SOURCE_OTHER, &block));
    assert_true(standin_starts() >= starts + 4);
    assert_string_equal(thrum_source_info(source)->name, "ALSA: Probe");
    standin_close(source);
}

static void what_cannot_be_had_is_said_and_the_lost_one_is_looked_for_on(void **state)
{
    (void)state;
    assert_refused("device Webcam;only_rate 44100", "ALSA: Webcam", "does not give 48000 Hz");
    assert_refused("device Webcam;open_error -9985", "ALSA: Webcam", "in use by another program");
    assert_refused("device Webcam", "ALSA: Line", "not there any more");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(asked_for_it_is_looked_for_at_once),
        cmocka_unit_test(what_is_there_is_offered_but_no_monitor),
        cmocka_unit_test(another_one_takes_its_place_with_the_time_away),
        cmocka_unit_test(one_channel_is_given_on_both),
        cmocka_unit_test(what_cannot_be_had_is_said_and_the_lost_one_is_looked_for_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
