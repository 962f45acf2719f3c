/* The device source against a stand-in for PortAudio, on a virtual clock: nothing here waits. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "portaudio_standin.h"
#include "sound/capture.h"
#include "sound/device_list.h"
#include "sound/device_source.h"
#include "sound/inputs.h"
#include "sound/source.h"
#include "standin_source.h"

#define RATE 48000.0

/* What happened while reading for some time. */
struct log {
    uint64_t frames; /* got */
    uint64_t place;  /* the card's frame that should come next: got + lost */
    uint64_t lost;
    int losses, gone, back, failed, rates;
    double rate_hz, rate_s; /* told last, and when */
    double first_gone_s;
    double longest_read_s;
    uint64_t wrong; /* samples that do not continue the ones before, where nothing was said to be lost */
    uint64_t largest_slip; /* at a loss: how far what was told is off what was missing */
    struct thrum_message said;
};

/* The card's frame that a sample is. */
static uint64_t frame_of(float sample)
{
    return (uint64_t)((int64_t)((double)sample * 8388608.0) + 4000000);
}

static void check_frames(struct log *log, const float *samples, size_t n, int channels, bool told)
{
    for (size_t i = 0; i < n; i++) {
        uint64_t frame = frame_of(samples[i * (size_t)channels]);
        if (i == 0 && told) { /* resynchronise, and note by how much */
            uint64_t slip = frame > log->place ? frame - log->place : log->place - frame;
            log->largest_slip = slip > log->largest_slip ? slip : log->largest_slip;
            log->place = frame;
        }
        log->wrong += frame != log->place ? 1 : 0;
        log->place = frame + 1;
    }
}

static void listen_for(struct thrum_source *source, double seconds, struct log *log)
{
    static float samples[4096 * 8];
    struct thrum_source_block block;
    double end_s = standin_now_s() + seconds;
    int channels = thrum_source_info(source)->channels;
    bool told = false;
    while (standin_now_s() < end_s && log->failed == 0) {
        double before_s = standin_now_s();
        thrum_source_read(source, samples, 4096, &block);
        double took_s = standin_now_s() - before_s;
        log->longest_read_s = took_s > log->longest_read_s ? took_s : log->longest_read_s;
        if (block.event == THRUM_SOURCE_GONE) {
            log->first_gone_s = log->gone == 0 ? standin_now_s() : log->first_gone_s;
            log->said = block.message;
        }
        log->losses += block.event == THRUM_SOURCE_LOST;
        log->gone += block.event == THRUM_SOURCE_GONE;
        log->back += block.event == THRUM_SOURCE_BACK;
        log->failed += block.event == THRUM_SOURCE_FAILED;
        if (block.event == THRUM_SOURCE_FAILED)
            log->said = block.message;
        if (block.event == THRUM_SOURCE_RATE) {
            log->rates++;
            log->rate_hz = block.rate_hz;
            log->rate_s = standin_now_s();
            log->said = block.message;
        }
        log->lost += block.lost;
        log->place += block.lost;
        told = told || block.lost > 0;
        check_frames(log, samples, block.frames, channels, told && block.frames > 0);
        told = told && block.frames == 0;
        log->frames += block.frames;
    }
}

/* ---- the ordinary ----------------------------------------------------------------------------- */

static void every_frame_arrives_once_and_in_order(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device USB Audio", NULL);
    const struct thrum_source_info *info = thrum_source_info(source);
    assert_string_equal(info->name, "ALSA: USB Audio");
    assert_close(info->rate_hz, 48000.0, 0.0);
    assert_int_equal(info->channels, 2);
    assert_true(info->live);
    listen_for(source, 60.0, &log);
    assert_int_equal(log.wrong, 0);
    assert_int_equal(log.losses + log.gone + log.back + log.failed, 0);
    assert_between((double)log.frames, (standin_now_s() - 0.1) * RATE, standin_now_s() * RATE);
    assert_true(log.longest_read_s <= 0.06);
    standin_close(source);
    assert_int_equal(standin_stop_calls(), 0);
}

static void a_card_clock_off_by_0_2_percent_is_no_loss(void **state)
{
    (void)state;
    static const char *const scripts[] = {"device a;ppm 200", "device a;ppm -200", "device a;ppm 2000",
                                          "device a;ppm -2000"};
    for (size_t i = 0; i < 4; i++) {
        struct log log = {0};
        struct thrum_source *source = standin_open(scripts[i], NULL);
        listen_for(source, 120.0, &log);
        assert_int_equal(log.losses + log.gone, 0);
        assert_int_equal(log.wrong, 0);
        standin_close(source);
    }
}

/* ---- losses ----------------------------------------------------------------------------------- */

static void a_flag_on_every_block_is_not_a_loss(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;flag_every", NULL);
    listen_for(source, 60.0, &log);
    assert_int_equal(log.losses, 0);
    assert_int_equal(log.wrong, 0);
    assert_true(device_source_overflows(source) > 55000000000u / CAPTURE_STEP_NS);
    standin_close(source);
}

static void a_hole_is_told_at_its_frame(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;skip 96000 4800;skip 480000 9600", NULL);
    listen_for(source, 20.0, &log);
    assert_int_equal(log.losses, 2);
    assert_int_equal(log.wrong, 0); /* the resynchronising block is the one after the hole, not a later one */
    assert_between((double)log.lost, 14400.0 - 960.0, 14400.0 + 960.0);
    assert_true(log.largest_slip <= 624);
    standin_close(source);
}

/* The program was stopped for 1.1 s; what the sound server kept of it lacks a second, and nobody says so. */
static void a_hole_without_a_flag_is_told_within_two_seconds(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;skip_silent 482400 48000", NULL);
    struct sound_host host = standin_host();
    listen_for(source, 10.0, &log);
    assert_int_equal(log.losses, 0);
    host.sleep_ns(NULL, 1100000000u);
    listen_for(source, 2.0, &log);
    assert_int_equal(log.gone, 0);
    assert_int_equal(log.losses, 1);
    assert_between((double)log.lost, 47376.0, 48624.0);
    standin_close(source);
}

/* Nobody reads for 60 s and the ring holds 30 or a little more: what does not fit is counted, not forgotten. */
static void a_full_ring_is_a_loss_of_known_length(void **state)
{
    (void)state;
    struct capture c;
    struct device_list list;
    struct thrum_message why;
    struct capture_event event;
    struct sound_host host = standin_host();
    memset(&c, 0, sizeof c);
    standin_begin("device a;channels 1");
    assert_int_equal(pa_stream_begin(&host, &c.pa, &why), PA_DONE);
    assert_int_equal(device_list_make(&list, false), THRUM_OK);
    assert_int_equal(pa_stream_open(&host, &c.pa, 0, &list.entry[0].info, 0.0, 0, &why), PA_DONE);
    device_list_free(&list);
    assert_true(capture_init(&c, &host));
    float *samples = calloc(ring_capacity(c.frames), sizeof *samples);
    for (double end_s = standin_now_s() + 60.0; standin_now_s() < end_s;) {
        capture_step(&c);
        host.sleep_ns(NULL, CAPTURE_STEP_NS);
    }
    size_t held = ring_read(c.frames, samples, ring_capacity(c.frames));
    assert_between((double)held, (double)ring_capacity(c.frames) - 4096.0, (double)ring_capacity(c.frames));
    assert_int_equal(ring_readable(c.events), 0); /* told only when there is something after the hole */
    assert_true(frame_of(samples[held - 1]) == held - 1);
    while (ring_readable(c.frames) == 0) {
        capture_step(&c);
        host.sleep_ns(NULL, CAPTURE_STEP_NS);
    }
    assert_int_equal(ring_read(c.events, &event, 1), 1);
    assert_int_equal(event.kind, THRUM_SOURCE_LOST);
    assert_true(event.at == held);
    assert_int_equal(ring_read(c.frames, samples, 1), 1);
    assert_true(frame_of(samples[0]) == held + event.lost); /* exact: these frames were counted one by one */
    free(samples);
    pa_stream_end(&host, &c.pa);
    capture_free(&c);
    standin_end();
}

static void a_stream_that_needs_a_kick_gets_one(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;plug_stall 96000", NULL);
    listen_for(source, 6.0, &log);
    assert_int_equal(log.gone, 0);
    assert_int_equal(log.losses, 1);
    assert_between((double)log.lost, 0.08 * RATE, 0.3 * RATE);
    assert_true(log.largest_slip <= 960);
    assert_int_equal(standin_starts(), 1);
    standin_close(source);
}

/* ---- another rate than it says ---------------------------------------------------------------- */

/* By the clock: 48000 is said and 44100 comes, without a word. No frame is missing then, and what does get lost is counted by
 * the rate that comes. */
static void a_wrong_rate_is_told_within_a_second_and_is_no_loss(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        double rate_hz;
    } cases[] = {{"device a;ppm -81250", 44100.0},
                 {"device a;ppm -81250;flag_every", 44100.0},
                 {"device a;ppm -81250;block 2048", 44100.0},
                 {"device a;rate 44100;ppm 88435.374", 48000.0},
                 {"device a;ppm -666666.667", 16000.0},
                 {"device a;ppm 1000000", 96000.0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct log log = {0};
        struct thrum_source *source = standin_open(cases[i].script, NULL);
        double says_hz = thrum_source_info(source)->rate_hz;
        listen_for(source, 60.0, &log);
        assert_int_equal(log.rates, 1);
        assert_close(log.rate_hz, cases[i].rate_hz, 1e-9);
        assert_true(log.rate_s < 1.05); /* the first frame comes a block after the start */
        assert_non_null(strstr(log.said.text, "WRONG RATE"));
        assert_non_null(strstr(log.said.text, cases[i].rate_hz < says_hz ? "too high" : "too low"));
        assert_int_equal(log.losses + log.gone + log.failed, 0);
        assert_int_equal(log.wrong, 0);
        standin_close(source);
    }
}

static void losses_at_a_wrong_rate_are_counted_by_the_rate_that_comes(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;ppm -81250;skip 441000 4410", NULL);
    listen_for(source, 20.0, &log);
    assert_int_equal(log.rates, 1);
    assert_int_equal(log.losses, 1);
    assert_close((double)log.lost, 4410.0, 624.0);
    standin_close(source);
}

/* It goes and comes back, and is as wrong as before: nothing new to tell, and the time away is counted in its frames. */
static void a_wrong_rate_is_not_told_again_after_a_return(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;ppm -81250;quiet_after 220500;return_after 9", NULL);
    listen_for(source, 20.0, &log);
    assert_int_equal(log.rates, 1);
    assert_int_equal(log.gone, 1);
    assert_int_equal(log.back, 1);
    assert_int_equal(log.losses, 0);
    assert_close((double)(log.frames + log.lost), standin_now_s() * 44100.0, 4410.0);
    standin_close(source);
}

/* ---- going and coming back -------------------------------------------------------------------- */

static void a_silent_death_is_told_within_a_second(void **state)
{
    (void)state;
    static const char *const scripts[] = {
        "device a;quiet_after 96000;return_after 10", "device a;error_after 96000 -9999;return_after 10",
        "device a;quiet_after 86400000;return_after 1810"}; /* after half an hour */
    static const double when_s[] = {2.0, 2.0, 1800.0};
    for (size_t i = 0; i < 3; i++) {
        struct log log = {0};
        struct thrum_source *source = standin_open(scripts[i], NULL);
        listen_for(source, when_s[i] + 7.0, &log);
        assert_int_equal(log.gone, 1);
        assert_between(log.first_gone_s, when_s[i], when_s[i] + 1.0);
        assert_non_null(strstr(log.said.text, "INPUT LOST - plug it in again"));
        assert_int_equal(log.back, 0);
        assert_true(log.longest_read_s <= 0.06);
        listen_for(source, 6.0, &log);
        assert_int_equal(log.back, 1);
        assert_int_equal(log.failed, 0);
        /* away from 2 s until the try at or after 10 s; the count goes on as if it had never been away */
        assert_between((double)(log.frames + log.lost), (standin_now_s() - 0.1) * RATE,
                       standin_now_s() * RATE);
        standin_close(source);
    }
}

static void it_is_found_again_by_name_in_a_new_list(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source =
        standin_open("device HDMI;device USB Audio;default 1;quiet_after 48000;relist;"
                     "device USB Audio;device HDMI;default 1",
                     "usb");
    listen_for(source, 5.0, &log);
    assert_int_equal(log.gone, 1);
    assert_int_equal(log.back, 1);
    assert_string_equal(thrum_source_info(source)->name, "ALSA: USB Audio");
    assert_true(standin_starts() >= 2);
    standin_close(source);
}

static void while_it_is_not_in_the_list_nothing_else_is_taken(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source =
        standin_open("device USB Audio;quiet_after 48000;relist;device Webcam", NULL);
    listen_for(source, 20.0, &log);
    assert_int_equal(log.gone, 1);
    assert_int_equal(log.back, 0);
    assert_between((double)log.frames, 47000.0, 48000.0);
    assert_between(standin_starts(), 8, 12); /* a look every two seconds */
    standin_close(source);
}

static void another_rate_on_return_ends_the_source_with_words(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open(
        "device USB Audio;quiet_after 48000;relist;device USB Audio;rate 44100;only_rate 44100", NULL);
    listen_for(source, 10.0, &log);
    assert_int_equal(log.failed, 1);
    assert_non_null(strstr(log.said.text, "44100"));
    assert_non_null(strstr(log.said.text, "start a new round"));
    struct thrum_source_block block;
    float samples[8];
    thrum_source_read(source, samples, 4, &block);
    assert_int_equal(block.event, THRUM_SOURCE_END);
    standin_close(source);
}

/* ---- calls that never come back --------------------------------------------------------------- */

static void a_hanging_stop_delays_nothing_beyond_its_limit(void **state)
{
    (void)state;
    static const char *const scripts[] = {"device a;stop_blocks", "device a;abort_blocks",
                                          "device a;close_blocks"};
    static const double most_s[] = {0.1, 2.1, 2.1};
    for (size_t i = 0; i < 3; i++) {
        struct log log = {0};
        struct thrum_source *source = standin_open(scripts[i], NULL);
        listen_for(source, 1.0, &log);
        double before_s = standin_now_s();
        thrum_source_close(source);
        assert_true(standin_now_s() - before_s <= most_s[i]);
        standin_end();
    }
}

static void a_dead_card_whose_abort_hangs_is_still_told_within_a_second(void **state)
{
    (void)state;
    struct log log = {0};
    struct thrum_source *source = standin_open("device a;quiet_after 96000;abort_blocks", NULL);
    listen_for(source, 6.0, &log);
    assert_int_equal(log.gone, 1);
    assert_between(log.first_gone_s, 2.0, 3.0);
    standin_close(source);
}

static void starting_that_hangs_is_an_error_not_a_hang(void **state)
{
    (void)state;
    assert_int_equal(standin_refused("device a;init_blocks", NULL, "does not answer"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;open_blocks", NULL, "does not answer"), THRUM_ERR_DEVICE);
    assert_int_equal(standin_refused("device a;start_blocks", NULL, "does not start"), THRUM_ERR_DEVICE);
}

/* ---- opening ---------------------------------------------------------------------------------- */

static void the_rate_is_what_the_stream_says(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        double rate_hz;
    } cases[] = {
        {"device a;rate 48000;only_rate 44100", 44100.0},
        {"device a;rate 48000;only_rate 96000", 96000.0},
        {"device a;rate 44100;only_rate 8000", 8000.0},
        {"device a;rate 48000;actual_rate 44100", 44100.0},
        {"device a;rate 0", 48000.0},
        {"device a;rate nan", 48000.0},
        {"device a;rate 4294967295", 48000.0},
        {"device a;rate 44099.7", 44099.7},
        {"device a;rate 32000", 32000.0},
        {"device a;rate 48000;actual_rate 1e12", 48000.0},
        {"device a;rate 192000;only_rate 16000", 16000.0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct log log = {0};
        struct thrum_source *source = standin_open(cases[i].script, NULL);
        assert_close(thrum_source_info(source)->rate_hz, cases[i].rate_hz, 1e-9);
        if (cases[i].rate_hz < 16000.0)
            assert_non_null(strstr(thrum_source_info(source)->note, "only 8000"));
        if (!strstr(cases[i].script, "1e12")) { /* that one lies about its own speed */
            listen_for(source, 5.0, &log);
            assert_int_equal(log.losses + log.gone, 0);
        }
        standin_close(source);
    }
}

static void the_channel_count_is_what_the_hardware_takes(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        int channels;
    } cases[] = {{"device a;channels 1", 1},
                 {"device a;channels 2;only_channels 1", 1},
                 {"device a;channels 2;only_channels 2", 2},
                 {"device a;channels 8;only_channels 8", 8},
                 {"device a;channels 8;only_channels 5", 5},
                 {"device a;channels 32;only_channels 32", 32}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct thrum_source *source = standin_open(cases[i].script, NULL);
        assert_int_equal(thrum_source_info(source)->channels, cases[i].channels);
        standin_close(source);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_frame_arrives_once_and_in_order),
        cmocka_unit_test(a_card_clock_off_by_0_2_percent_is_no_loss),
        cmocka_unit_test(a_flag_on_every_block_is_not_a_loss),
        cmocka_unit_test(a_hole_is_told_at_its_frame),
        cmocka_unit_test(a_hole_without_a_flag_is_told_within_two_seconds),
        cmocka_unit_test(a_full_ring_is_a_loss_of_known_length),
        cmocka_unit_test(a_stream_that_needs_a_kick_gets_one),
        cmocka_unit_test(a_wrong_rate_is_told_within_a_second_and_is_no_loss),
        cmocka_unit_test(losses_at_a_wrong_rate_are_counted_by_the_rate_that_comes),
        cmocka_unit_test(a_wrong_rate_is_not_told_again_after_a_return),
        cmocka_unit_test(a_silent_death_is_told_within_a_second),
        cmocka_unit_test(it_is_found_again_by_name_in_a_new_list),
        cmocka_unit_test(while_it_is_not_in_the_list_nothing_else_is_taken),
        cmocka_unit_test(another_rate_on_return_ends_the_source_with_words),
        cmocka_unit_test(a_hanging_stop_delays_nothing_beyond_its_limit),
        cmocka_unit_test(a_dead_card_whose_abort_hangs_is_still_told_within_a_second),
        cmocka_unit_test(starting_that_hangs_is_an_error_not_a_hang),
        cmocka_unit_test(the_rate_is_what_the_stream_says),
        cmocka_unit_test(the_channel_count_is_what_the_hardware_takes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
