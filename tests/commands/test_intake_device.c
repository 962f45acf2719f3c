/* What an input gave before the round began: kept, heard again, with its losses. Against the stand-in for PortAudio, on a virtual
 * clock. */
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "live_round.h"
#include "portaudio_standin.h"
#include "wav_bytes.h"

/* ---- before the round ------------------------------------------------------------------------- */

/* The technician learned the voice for seven seconds, then the round begins: its recording has the last five of them. */
static void five_seconds_from_before_the_round_are_kept(void **state)
{
    struct live_round *f = *state;
    struct thrum_voice voice = thrum_practice_config_default(1).voice;
    struct thrum_message message;
    struct live_log log = {0};
    size_t before, n;
    live_open_intake(f, "device a;channels 1");
    intake_remember(f->intake);
    live_read_for(f, 7.0);
    uint64_t heard = intake_remembered(f->intake);
    intake_go_on(f->intake, 5.0);
    assert_non_null(intake_before(f->intake, &before));
    assert_int_equal(before, 240000);
    live_open_session(f, &voice, false);
    live_run_for(f, 1.0, &log);
    assert_int_equal(session_act(f->session, THRUM_GO_TO, "w03"), THRUM_OK);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    live_run_for(f, 2.0, &log);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    uint64_t frames = session_frames(f->session);
    assert_int_equal(session_recorded(f->session), frames + before);
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_int_equal(seen->n_readings, 1);
    uint64_t touched = seen->readings[0].first_frame;
    free(seen);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    int *got = live_read_all(f->path, &n);
    assert_int_equal(n, frames + before);
    size_t wrong = 0;
    for (size_t i = 0; i < n; i++)
        wrong += got[i] != live_in_24_bits(standin_sample(heard - before + i));
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
    live_end(f);
}

/* Only what joins on without a hole stands before. */
static void a_loss_cuts_short_what_stands_before(void **state)
{
    struct live_round *f = *state;
    size_t before;
    live_open_intake(f, "device a;channels 1;skip 288000 4800");
    intake_remember(f->intake);
    live_read_for(f, 7.0);
    uint64_t heard = intake_remembered(f->intake); /* with what was lost */
    intake_go_on(f->intake, 5.0);
    const float *samples = intake_before(f->intake, &before);
    assert_between((double)before, 40000.0, 48000.0 - 4800.0);
    assert_int_equal(live_in_24_bits(samples[0]), live_in_24_bits(standin_sample(288000 + 4800)));
    assert_between((double)heard, 6.9 * LIVE_RATE - 600.0, 7.0 * LIVE_RATE + 600.0);
    live_end(f);
}

/* With hands free, what was learned from is heard again: all that there is room for, and its losses where they were. */
static void what_is_heard_again_has_its_losses(void **state)
{
    struct live_round *f = *state;
    struct thrum_source_block block;
    struct thrum_message message;
    uint64_t at = 0;
    uint64_t lost = 0;
    live_open_intake(f, "device a;channels 1;skip 96000 4800");
    intake_remember(f->intake);
    live_read_for(f, 4.0);
    assert_int_equal(intake_again(f->intake, &message), THRUM_OK);
    uint64_t remembered = intake_remembered(f->intake);
    while (intake_remembered(f->intake) > 0) {
        const float *samples = intake_read(f->intake, LIVE_BLOCK, &block);
        lost += block.lost;
        at += block.lost > 0 ? 4800 : 0;
        assert_int_equal(block.event, block.lost > 0 ? THRUM_SOURCE_LOST : THRUM_SOURCE_DATA);
        for (size_t i = 0; i < block.frames; i++, at++)
            assert_int_equal(live_in_24_bits(samples[i]), live_in_24_bits(standin_sample(at)));
    }
    assert_between((double)lost, 4800.0 - 624.0, 4800.0 + 624.0);
    assert_int_equal(remembered, at - 4800 + lost);
    live_end(f);
}

/* Nearly three minutes of looking for a voice: the memory of two has the newest, at least a half of it. */
static void the_oldest_is_forgotten_first(void **state)
{
    struct live_round *f = *state;
    struct thrum_source_block block;
    struct thrum_message message;
    live_open_intake(f, "device a;channels 1");
    intake_remember(f->intake);
    live_read_for(f, 160.0);
    assert_int_equal(intake_again(f->intake, &message), THRUM_OK);
    uint64_t remembered = intake_remembered(f->intake);
    assert_between((double)remembered, 60.0 * LIVE_RATE, 132.0 * LIVE_RATE);
    float first = intake_read(f->intake, LIVE_BLOCK, &block)[0];
    while (intake_remembered(f->intake) > 0)
        intake_read(f->intake, LIVE_BLOCK, &block);
    /* what the input gives next joins on */
    const float *samples = intake_read(f->intake, LIVE_BLOCK, &block);
    assert_true(block.frames > 0);
    assert_int_equal((int64_t)lrint(((double)samples[0] - (double)first) * 0x1p23), (int64_t)remembered);
    live_end(f);
}

#define T(name) cmocka_unit_test_setup_teardown(name, live_set_up, wb_fixture_remove)

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
