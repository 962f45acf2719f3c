/* A round on a device that fails: what is shown, what is recorded, what becomes of the round. Against the stand-in for
 * PortAudio, on a virtual clock: nothing here waits. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "commands/intake.h"
#include "commands/session.h"
#include "portaudio_standin.h"
#include "sound/device_source.h"
#include "walks.h"
#include "wav_bytes.h"

#define RATE  48000.0
#define BLOCK 2400

struct fixture {
    char folder[200];
    char path[400];
    struct intake *intake;
    struct session *session;
};

static int set_up(void **state)
{
    struct fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    wb_folder_make(f->folder, sizeof f->folder);
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    struct fixture *f = *state;
    wb_folder_remove(f->folder);
    free(f);
    return 0;
}

/* ---- helpers ---------------------------------------------------------------------------------- */

static void open_intake(struct fixture *f, const char *script)
{
    struct intake_config config = {.from = "device:"};
    struct thrum_message message;
    struct sound_host host = standin_host();
    standin_begin(script);
    if (device_source_open(&host, NULL, &config.source, &message) != THRUM_OK ||
        intake_open(&config, &f->intake, &message) != CODE_DONE) {
        fail_msg("%s", message.text);
    }
}

static void open_session(struct fixture *f, const struct thrum_voice *voice, bool hands_free)
{
    struct thrum_message message;
    struct thrum_recorder_config recorder = {
        .folder = f->folder, .stem = "r", .rate_hz = RATE, .channels = 1, .about = "{}"};
    struct session_config config = {
        .intake = f->intake, .voices = voice, .n_voices = 1, .hands_free = hands_free, .block = BLOCK};
    assert_int_equal(thrum_recorder_create(&recorder, &config.recorder, &message), THRUM_OK);
    assert_int_equal(session_create(&config, &f->session, &message), CODE_DONE);
    snprintf(f->path, sizeof f->path, "%s/r.wav", f->folder);
}

static void end(struct fixture *f)
{
    session_destroy(f->session);
    intake_close(f->intake);
    standin_end();
}

static void read_for(struct fixture *f, double seconds)
{
    struct thrum_source_block block;
    for (double until_s = standin_now_s() + seconds; standin_now_s() < until_s;) {
        intake_read(f->intake, BLOCK, &block);
    }
}

/* What happened while the session went on for some time. */
struct log {
    int lost, back;
    double lost_s; /* when it was first told */
    struct thrum_message said;
};

static void run_for(struct fixture *f, double seconds, struct log *log)
{
    struct thrum_message message;
    enum session_state before = SESSION_GOES_ON;
    for (double until_s = standin_now_s() + seconds; standin_now_s() < until_s;) {
        enum session_state state = session_step(f->session, &message);
        if (message.text[0]) {
            log->said = message;
        }
        if (state == SESSION_LOST_INPUT && before != state) {
            log->lost_s = log->lost++ == 0 ? standin_now_s() : log->lost_s;
        }
        log->back += strstr(message.text, "is back") ? 1 : 0;
        before = state;
    }
}

/* All of a file by the library of the distribution; *n frames of one channel, malloc'ed. */
static int *read_all(const char *path, size_t *n)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.channels, 1);
    int *samples = malloc(sizeof *samples * (size_t)(info.frames + 1));
    assert_non_null(samples);
    *n = (size_t)sf_readf_int(file, samples, info.frames);
    assert_int_equal(*n, info.frames);
    sf_close(file);
    return samples;
}

static int in_24_bits(float sample)
{
    return (int)lrint((double)sample * 0x1p23) * 256;
}

/* ---- before the round ------------------------------------------------------------------------- */

/* The technician learned the voice for seven seconds, then the round begins: its recording has the last five of them. */
static void five_seconds_from_before_the_round_are_kept(void **state)
{
    struct fixture *f = *state;
    struct thrum_voice voice = thrum_practice_config_default(1).voice;
    struct thrum_message message;
    struct log log = {0};
    size_t before, n;
    open_intake(f, "device a;channels 1");
    intake_remember(f->intake);
    read_for(f, 7.0);
    uint64_t heard = intake_remembered(f->intake);
    intake_go_on(f->intake, 5.0);
    assert_non_null(intake_before(f->intake, &before));
    assert_int_equal(before, 240000);
    open_session(f, &voice, false);
    run_for(f, 1.0, &log);
    assert_int_equal(session_act(f->session, THRUM_GO_TO, "w03"), THRUM_OK);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    run_for(f, 2.0, &log);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    uint64_t frames = session_frames(f->session);
    assert_int_equal(session_recorded(f->session), frames + before);
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_int_equal(seen->n_readings, 1);
    uint64_t touched = seen->readings[0].first_frame;
    free(seen);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    int *got = read_all(f->path, &n);
    assert_int_equal(n, frames + before);
    size_t wrong = 0;
    for (size_t i = 0; i < n; i++) {
        wrong += got[i] != in_24_bits(standin_sample(heard - before + i));
    }
    assert_int_equal(wrong, 0);
    free(got);
    struct thrum_source *source;
    struct thrum_mark mark;
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_int_equal(thrum_source_marks(source, &mark, 1), 1);
    assert_string_equal(mark.label, "w03");
    assert_int_equal(mark.first,
                     before + touched); /* the touch is where it was, not where the round counts */
    thrum_source_close(source);
    end(f);
}

/* Only what joins on without a hole stands before. */
static void a_loss_cuts_short_what_stands_before(void **state)
{
    struct fixture *f = *state;
    size_t before;
    open_intake(f, "device a;channels 1;skip 288000 4800");
    intake_remember(f->intake);
    read_for(f, 7.0);
    uint64_t heard = intake_remembered(f->intake); /* with what was lost */
    intake_go_on(f->intake, 5.0);
    const float *samples = intake_before(f->intake, &before);
    assert_between((double)before, 40000.0, 48000.0 - 4800.0);
    assert_int_equal(in_24_bits(samples[0]), in_24_bits(standin_sample(288000 + 4800)));
    assert_between((double)heard, 6.9 * RATE - 600.0, 7.0 * RATE + 600.0);
    end(f);
}

/* With hands free, what was learned from is heard again: all that there is room for, and its losses where they were. */
static void what_is_heard_again_has_its_losses(void **state)
{
    struct fixture *f = *state;
    struct thrum_source_block block;
    struct thrum_message message;
    uint64_t at = 0;
    uint64_t lost = 0;
    open_intake(f, "device a;channels 1;skip 96000 4800");
    intake_remember(f->intake);
    read_for(f, 4.0);
    assert_int_equal(intake_again(f->intake, &message), THRUM_OK);
    uint64_t remembered = intake_remembered(f->intake);
    while (intake_remembered(f->intake) > 0) {
        const float *samples = intake_read(f->intake, BLOCK, &block);
        lost += block.lost;
        at += block.lost > 0 ? 4800 : 0;
        assert_int_equal(block.event, block.lost > 0 ? THRUM_SOURCE_LOST : THRUM_SOURCE_DATA);
        for (size_t i = 0; i < block.frames; i++, at++) {
            assert_int_equal(in_24_bits(samples[i]), in_24_bits(standin_sample(at)));
        }
    }
    assert_between((double)lost, 4800.0 - 624.0, 4800.0 + 624.0);
    assert_int_equal(remembered, at - 4800 + lost);
    end(f);
}

/* Nearly three minutes of looking for a voice: the memory of two has the newest, at least a half of it. */
static void the_oldest_is_forgotten_first(void **state)
{
    struct fixture *f = *state;
    struct thrum_source_block block;
    struct thrum_message message;
    open_intake(f, "device a;channels 1");
    intake_remember(f->intake);
    read_for(f, 160.0);
    assert_int_equal(intake_again(f->intake, &message), THRUM_OK);
    uint64_t remembered = intake_remembered(f->intake);
    assert_between((double)remembered, 60.0 * RATE, 132.0 * RATE);
    float first = intake_read(f->intake, BLOCK, &block)[0];
    while (intake_remembered(f->intake) > 0) {
        intake_read(f->intake, BLOCK, &block);
    }
    /* what the input gives next joins on */
    const float *samples = intake_read(f->intake, BLOCK, &block);
    assert_true(block.frames > 0);
    assert_int_equal((int64_t)lrint(((double)samples[0] - (double)first) * 0x1p23), (int64_t)remembered);
    end(f);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(five_seconds_from_before_the_round_are_kept),
        T(a_loss_cuts_short_what_stands_before),
        T(what_is_heard_again_has_its_losses),
        T(the_oldest_is_forgotten_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
