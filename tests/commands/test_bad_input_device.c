/* A round on an input that delivers, but not what it should: silence, one side, gated, hum that comes and goes. Against the
 * stand-in for PortAudio, on a virtual clock. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/command.h"
#include "commands/intake.h"
#include "commands/session.h"
#include "portaudio_standin.h"
#include "signals.h"
#include "sound/device_source.h"
#include "thrum/practice.h"
#include "wav_bytes.h"

#define RATE  48000.0
#define BLOCK 2400

struct fixture {
    char folder[200];
    struct intake *intake;
    struct session *session;
    struct thrum_snapshot seen;
    float *x; /* [n] what sounds in the world */
    size_t n;
};

static int set_up(void **state)
{
    struct fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    wb_folder_make(f->folder, sizeof f->folder);
    f->n = (size_t)(30.0 * RATE);
    f->x = calloc(f->n, sizeof *f->x);
    assert_non_null(f->x);
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    struct fixture *f = *state;
    wb_folder_remove(f->folder);
    free(f->x);
    free(f);
    return 0;
}

static struct thrum_voice voice(void)
{
    return thrum_practice_config_default(1).voice;
}

/* 1037 Hz, 0.25 s on and off, as the practice bundle's sender, at so many dBFS. */
static void add_beeps(struct fixture *f, double dbfs)
{
    struct rng rng = rng_seeded(5002);
    struct sender sender = {.voice = voice(), .dbfs = dbfs, .keep_phase = 1};
    add_sender(&rng, f->x, f->n, RATE, &sender);
}

static void add_hiss(struct fixture *f, double sd)
{
    struct rng rng = rng_seeded(5003);
    add_noise(&rng, f->x, f->n, sd);
}

static void begin(struct fixture *f, const char *script, const struct thrum_voice *heard)
{
    struct thrum_message message;
    struct intake_config from = {.from = "device:"};
    struct sound_host host = standin_host();
    standin_begin(script);
    standin_feed(f->x, f->n);
    if (device_source_open(&host, NULL, &from.source, &message) != THRUM_OK)
        fail_msg("%s", message.text);
    assert_int_equal(intake_open(&from, &f->intake, &message), CODE_DONE);
    const struct thrum_source_info *info = intake_info(f->intake);
    struct thrum_recorder_config recorder = {
        .folder = f->folder, .stem = "r", .rate_hz = info->rate_hz, .channels = info->channels};
    struct session_config config = {.intake = f->intake, .voices = heard, .n_voices = 1, .block = BLOCK};
    assert_int_equal(thrum_recorder_create(&recorder, &config.recorder, &message), THRUM_OK);
    assert_int_equal(session_create(&config, &f->session, &message), CODE_DONE);
}

static void run_for(struct fixture *f, double seconds)
{
    struct thrum_message message;
    for (double until_s = standin_now_s() + seconds; standin_now_s() < until_s;)
        assert_true(session_step(f->session, &message) != SESSION_ENDED);
    thrum_round_snapshot(session_round(f->session), &f->seen);
}

/* One touch of a wire, by keys; its reading is the last of f->seen. */
static const struct thrum_reading *touch(struct fixture *f, const char *tag, double seconds)
{
    assert_int_equal(session_act(f->session, THRUM_GO_TO, tag), THRUM_OK);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    run_for(f, seconds);
    session_act(f->session, THRUM_TAKE, NULL);
    thrum_round_snapshot(session_round(f->session), &f->seen);
    assert_true(f->seen.n_readings > 0);
    return &f->seen.readings[f->seen.n_readings - 1];
}

static void finish(struct fixture *f)
{
    struct thrum_message message;
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    thrum_round_snapshot(session_round(f->session), &f->seen);
}

static void end(struct fixture *f)
{
    session_destroy(f->session);
    intake_close(f->intake);
    standin_end();
}

/* ---- silence ---------------------------------------------------------------------------------- */

/* Muted, not plugged in, no permission: all wires silent must never be told as wires without tone. */
static void digital_silence_is_never_no_tone(void **state)
{
    struct fixture *f = *state;
    static const double constant[] = {0.0, 0.25};
    struct thrum_voice v = voice();
    for (size_t i = 0; i < 2; i++) {
        for (size_t k = 0; k < f->n; k++)
            f->x[k] = (float)constant[i];
        begin(f, "device a;channels 1", &v);
        run_for(f, 2.0);
        assert_int_equal(f->seen.now.heard, THRUM_HEARD_SILENCE);
        for (int wire = 1; wire <= 4; wire++) {
            char tag[8];
            snprintf(tag, sizeof tag, "%d", wire);
            const struct thrum_reading *reading = touch(f, tag, 3.0);
            assert_true(reading->faults & THRUM_FAULT_SILENT);
            assert_false(reading->strength[0].heard);
        }
        finish(f);
        assert_int_not_equal(f->seen.pick[0].outcome, THRUM_NO_TONE);
        assert_int_not_equal(f->seen.pick[0].outcome, THRUM_PICKED);
        end(f);
        wb_folder_remove(f->folder);
        wb_folder_make(f->folder, sizeof f->folder);
    }
}

/* The last bit of a 16-bit input that flickers is an input that works: wires without tone are that. */
static void a_flickering_last_bit_is_no_silence(void **state)
{
    struct fixture *f = *state;
    struct thrum_voice v = voice();
    struct rng rng = rng_seeded(5004);
    for (size_t i = 0; i < f->n; i++)
        f->x[i] = (float)(floor(3.0 * rng_uniform(&rng)) - 1.0) / 32768.0f;
    begin(f, "device a;channels 1", &v);
    for (int wire = 1; wire <= 4; wire++) {
        char tag[8];
        snprintf(tag, sizeof tag, "%d", wire);
        assert_false(touch(f, tag, 3.0)->faults & THRUM_FAULT_SILENT);
    }
    assert_int_not_equal(f->seen.now.heard, THRUM_HEARD_SILENCE);
    finish(f);
    assert_int_equal(f->seen.pick[0].outcome, THRUM_NO_TONE);
    end(f);
}

/* ---- one side --------------------------------------------------------------------------------- */

/* The mean of both sides would read 6 dB less; the dead side nothing at all. */
static void the_side_that_has_the_probe_is_read_and_kept(void **state)
{
    struct fixture *f = *state;
    static const char *const scripts[] = {"device a;side 0", "device a;side 1"};
    struct thrum_voice v = voice();
    add_beeps(f, -30.0);
    add_hiss(f, 1e-4);
    for (int side = 0; side < 2; side++) {
        begin(f, scripts[side], &v);
        run_for(f, 3.0);
        const struct thrum_reading *reading = touch(f, "w01", 5.0);
        assert_int_equal(reading->channel, side);
        assert_true(reading->faults & THRUM_FAULT_ONE_SIDED);
        assert_close(reading->strength[0].dbfs, -30.0, 0.3);
        finish(f);
        end(f);
        wb_folder_remove(f->folder);
        wb_folder_make(f->folder, sizeof f->folder);
    }
}

/* ---- what is heard well all the same ---------------------------------------------------------- */

/* The charger hums at -12 dBFS and is unplugged after ten seconds: the beeps, 33 dB below, read the same before and after. */
static void a_hum_that_is_switched_off_changes_no_reading(void **state)
{
    struct fixture *f = *state;
    struct thrum_voice v = voice();
    struct rng rng = rng_seeded(5005);
    struct hum hum = {.hz = 50.02, .harmonics = 40, .dbfs = -12.0};
    add_hum(&rng, f->x, (size_t)(10.0 * RATE), RATE, &hum);
    add_beeps(f, -45.0);
    add_hiss(f, 1e-4);
    begin(f, "device a;channels 1", &v);
    run_for(f, 2.0);
    double strength[2];
    for (int i = 0; i < 2; i++) {
        const struct thrum_reading *reading = touch(f, i == 0 ? "w01" : "w02", 7.0);
        assert_true(reading->strength[0].heard);
        strength[i] = reading->strength[0].dbfs;
        assert_true(i == 0 ? fabs(reading->hum_dbfs + 12.0) < 1.0 : reading->hum_dbfs < -40.0);
        run_for(f, 3.0);
    }
    assert_close(strength[0], -45.0, 1.0);
    assert_close(strength[1], -45.0, 0.3);
    finish(f);
    end(f);
}

/* Cards differ in their clocks, by 0.2 % at the worst: tone and cadence come as much faster or slower. */
static void a_card_clock_off_by_0_2_percent_hears_the_same(void **state)
{
    struct fixture *f = *state;
    static const double off[] = {-0.002, 0.0002, 0.002};
    struct thrum_voice v = voice();
    for (size_t i = 0; i < 3; i++) {
        struct rng rng = rng_seeded(5006);
        struct sender sender = {.voice = v, .dbfs = -40.0, .keep_phase = 1};
        memset(f->x, 0, f->n * sizeof *f->x);
        sender.voice.tones_hz[0] *= 1.0 + off[i];
        for (int s = 0; s < sender.voice.n_steps; s++)
            sender.voice.step[s].s /= 1.0 + off[i];
        add_sender(&rng, f->x, f->n, RATE, &sender);
        add_hiss(f, 1e-3 / sqrt(2.0)); /* -60 dBFS */
        begin(f, "device a;channels 1", &v);
        run_for(f, 1.0);
        const struct thrum_reading *reading = touch(f, "w01", 12.0);
        assert_true(reading->strength[0].heard);
        assert_close(reading->strength[0].dbfs, -40.0, 0.3);
        assert_close(reading->strength[0].tone_hz, sender.voice.tones_hz[0], 1.0);
        assert_between(reading->strength[0].beeps_heard, 23, 24);
        finish(f);
        end(f);
        wb_folder_remove(f->folder);
        wb_folder_make(f->folder, sizeof f->folder);
    }
}

/* ---- a headset -------------------------------------------------------------------------------- */

/* A Bluetooth headset is the only input: 16 kHz, and zeros for 40 % of its blocks of 20 ms. */
static void a_gated_headset_is_warned_of(void **state)
{
    struct fixture *f = *state;
    struct thrum_voice v = voice();
    struct rng rng = rng_seeded(5007);
    struct sender sender = {.voice = v, .dbfs = -30.0, .keep_phase = 1};
    add_sender(&rng, f->x, f->n, 16000.0, &sender);
    add_hiss(f, 1e-3);
    for (size_t at = 0; at + 320 <= f->n; at += 320)
        if (rng_uniform(&rng) < 0.4)
            memset(f->x + at, 0, 320 * sizeof *f->x);
    begin(f, "device Headset Bluetooth;channels 1;rate 16000", &v);
    assert_non_null(strstr(intake_info(f->intake)->note, "Bluetooth"));
    run_for(f, 1.0);
    const struct thrum_reading *reading = touch(f, "w01", 5.0);
    assert_true(reading->faults & THRUM_FAULT_GATED);
    assert_true(f->seen.now.faults & THRUM_FAULT_GATED);
    finish(f);
    end(f);
}

/* ---- ending ----------------------------------------------------------------------------------- */

/* The driver hangs in whatever ends a stream: the recording is closed before it is asked. */
static void the_recording_is_closed_before_a_driver_that_hangs(void **state)
{
    struct fixture *f = *state;
    static const char *const scripts[] = {"device a;channels 1;abort_blocks",
                                          "device a;channels 1;close_blocks",
                                          "device a;channels 1;stop_blocks"};
    struct thrum_voice v = voice();
    add_beeps(f, -30.0);
    for (int i = 0; i < 3; i++) {
        SF_INFO info = {.format = 0};
        begin(f, scripts[i], &v);
        run_for(f, 4.0);
        char path[300];
        snprintf(path, sizeof path, "%s", session_recording(f->session));
        uint64_t frames = session_frames(f->session);
        finish(f);
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        assert_non_null(file);
        assert_int_equal(info.frames, frames);
        sf_close(file);
        double before_s = standin_now_s();
        end(f);
        assert_true(standin_now_s() - before_s < 5.0);
        wb_folder_remove(f->folder);
        wb_folder_make(f->folder, sizeof f->folder);
    }
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(digital_silence_is_never_no_tone),
        T(a_flickering_last_bit_is_no_silence),
        T(the_side_that_has_the_probe_is_read_and_kept),
        T(a_hum_that_is_switched_off_changes_no_reading),
        T(a_card_clock_off_by_0_2_percent_hears_the_same),
        T(a_gated_headset_is_warned_of),
        T(the_recording_is_closed_before_a_driver_that_hangs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
