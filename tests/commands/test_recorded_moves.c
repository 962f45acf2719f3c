/* What a recording says of a sender that was followed: in its part a note with the frame, in later parts from their first frame on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/recorded.h"
#include "takes.h"
#include "wav_bytes.h"

#define GAP (3 * 48000)

/* Two parts with a long gap between them; the sender of 1000 Hz is followed to 1050 Hz at frame 2400 of the first, to 1200 Hz, which is too far, at
 * its end. */
static void make_parts(const struct take_fixture *f)
{
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    const struct thrum_mark moved = {.first = 2400, .label = RECORDED_MOVED "1050.25"};
    const struct thrum_mark far = {.first = 4000, .label = RECORDED_MOVED "1200"};
    const struct thrum_mark touch = {.first = 100, .end = 2000, .label = "w01"};
    assert_int_equal(take_write(r, 0, 4800, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_mark(r, &touch), THRUM_OK);
    assert_int_equal(thrum_recorder_mark(r, &moved), THRUM_OK);
    assert_int_equal(thrum_recorder_mark(r, &far), THRUM_OK);
    assert_int_equal(thrum_recorder_about(r, "{\"thrum\":\"0\",\"followed_to_hz\":1050.25}"), THRUM_OK);
    assert_int_equal(thrum_recorder_parts(r), 1);
    assert_int_equal(thrum_recorder_lost(r, GAP, &message), THRUM_OK);
    assert_int_equal(take_write(r, 4800 + GAP, 4800, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_parts(r), 2);
    take_end(r);
}

static void assert_moves(const char *path, const struct thrum_voice *voice, size_t n, uint64_t frame)
{
    struct thrum_message message;
    struct thrum_source *source;
    struct recorded_move *moves;
    assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
    assert_int_equal(recorded_moves(source, voice, &moves), n);
    if (n > 0) {
        assert_int_equal(moves[0].frame, frame);
        assert_close(moves[0].tone_hz, 1050.25, 1e-9);
    }
    free(moves);
    thrum_source_close(source);
}

static void each_part_says_where_its_sender_was_followed_to(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_voice voice = thrum_voice_beep(1000.0, 0.25, 0.25),
                       other = thrum_voice_beep(700.0, 0.25, 0.25);
    make_parts(f);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_moves(f->path, &voice, 1, 2400);
    assert_moves(f->path, &other, 0, 0);
    snprintf(f->path, sizeof f->path, "%s/take-part2.wav", f->folder);
    assert_moves(f->path, &voice, 1, 0);
    assert_moves(f->path, &other, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_part_says_where_its_sender_was_followed_to, take_set_up,
                                        wb_fixture_remove),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
