/* Recordings: names, samples, marks. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "check.h"
#include "signals.h"
#include "sound/recorder.h"
#include "sound/recorder_own.h"
#include "takes.h"
#include "wav_bytes.h"

/* ---- the ordinary ----------------------------------------------------------------------------- */

static void every_24_bit_sample_is_kept_exactly(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    assert_int_equal(take_write(r, 0, 100001, &message), THRUM_OK); /* odd: the data needs a pad byte */
    assert_int_equal(thrum_recorder_frames(r), 100001);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_int_equal(take_check(f->path, 0), 100001);
    assert_int_equal(take_u32_at(f->path, 4), take_size(f->path) - 8);
    assert_int_equal(take_size(f->path) % 2, 0);
}

static void two_equal_takes_are_equal_files(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    char other[400];
    for (int i = 0; i < 2; i++) {
        struct thrum_recorder *r = take_begin(f, i ? "b" : "a", 1);
        assert_int_equal(take_write(r, 0, 5000, &message), THRUM_OK);
        take_end(r);
    }
    snprintf(f->path, sizeof f->path, "%s/a.wav", f->folder);
    snprintf(other, sizeof other, "%s/b.wav", f->folder);
    assert_int_equal(take_size(f->path), take_size(other));
    for (long at = 0; at + 4 <= take_size(other); at += 4)
        assert_int_equal(take_u32_at(f->path, at), take_u32_at(other, at));
}

static void a_name_is_never_used_twice(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    char link_path[400];
    char target[400];
    snprintf(target, sizeof target, "%s/elsewhere", f->folder);
    snprintf(link_path, sizeof link_path, "%s/take_2.wav", f->folder);
    assert_int_equal(symlink(target, link_path), 0); /* a trap: must be neither followed nor replaced */
    static const char *const names[] = {"take.wav", "take_3.wav", "take_4.wav"};
    for (size_t i = 0; i < 3; i++) {
        struct thrum_recorder *r = take_begin(f, "take", 1);
        snprintf(f->path, sizeof f->path, "%s/%s", f->folder, names[i]);
        assert_string_equal(thrum_recorder_path(r), f->path);
        assert_int_equal(take_write(r, 0, 10, &message), THRUM_OK);
        take_end(r);
        assert_true(take_exists(f->path));
    }
    assert_false(take_exists(target));
}

static void the_folder_is_made_and_slashes_stay_out_of_the_name(void **state)
{
    struct take_fixture *f = *state;
    char folder[300];
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    snprintf(folder, sizeof folder, "%s/new", f->folder);
    struct thrum_recorder_config config = {
        .folder = folder, .stem = "../x", .rate_hz = TAKE_RATE, .channels = 1};
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
    assert_int_equal(take_write(r, 0, 10, &message), THRUM_OK);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/.._x.wav", folder);
    assert_true(take_exists(f->path));
}

static void bad_settings_and_places_are_refused_with_words(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct thrum_recorder_config config = {
        .folder = f->folder, .stem = "", .rate_hz = TAKE_RATE, .channels = 1};
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_ERR_ARG);
    config.stem = "x";
    config.channels = 65;
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_ERR_ARG);
    config.channels = 1;
    config.folder = "/proc/nothing/here";
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "/proc/nothing/here"));
    config.folder = "/dev/null";
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_ERR_FILE);
    assert_null(r);
    assert_int_equal(thrum_recorder_close(NULL, &message), THRUM_OK);
}

static void a_take_without_a_frame_leaves_nothing(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_mark mark = {.first = 0, .end = 5, .label = "w01"};
    struct thrum_recorder *r = take_begin(f, "take", 2);
    assert_int_equal(thrum_recorder_mark(r, &mark), THRUM_OK);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_false(take_exists(f->path));
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    assert_false(take_exists(f->path));
}

/* ---- samples ---------------------------------------------------------------------------------- */

static void wild_samples_are_cleaned_and_limited(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    const float in[] = {0.25f, NAN, INFINITY, -INFINITY, 1.0001f, 1.5f, -1.0f, -7.0f, 1e30f, 0.25f};
    const int out[] = {2097152, 0, 0, 0, 8388607, 8388607, -8388608, -8388608, 8388607, 2097152};
    assert_int_equal(thrum_recorder_write(r, in, 10, &message), THRUM_OK);
    take_end(r);
    SF_INFO info = {.format = 0};
    int got[16] = {0};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(sf_readf_int(file, got, 16), 10);
    for (int i = 0; i < 10; i++)
        assert_int_equal(got[i] / 256, out[i]);
    sf_close(file);
}

static void lost_frames_are_zeros_so_that_numbers_stay(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    assert_int_equal(take_write(r, 0, 100, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_lost(r, 20000, &message), THRUM_OK);
    assert_int_equal(take_write(r, 20100, 100, &message), THRUM_OK);
    take_end(r);
    SF_INFO info = {.format = 0};
    int got[20200];
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    assert_int_equal(sf_readf_int(file, got, 20200), 20200);
    assert_int_equal(got[99] / 256, 99 - 4000000);
    for (int i = 100; i < 20100; i++)
        assert_int_equal(got[i], 0);
    assert_int_equal(got[20100] / 256, 20100 - 4000000);
    sf_close(file);
}

/* ---- marks ------------------------------------------------------------------------------------ */

static void marks_with_labels_and_lengths_are_in_the_file(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    const struct thrum_mark made[] = {{.first = 4800, .end = 9600, .label = "w02"},
                                      {.first = 100, .end = 200, .label = "wrong"},
                                      {.first = 0, .end = 4000, .label = "gr\xC3\xA4u\n1"},
                                      {.first = 30000, .end = 0, .label = "point"},
                                      {.first = 12000, .end = 99999999, .label = "w02"}};
    assert_int_equal(take_write(r, 0, 47999, &message), THRUM_OK);
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(thrum_recorder_mark(r, &made[i]), THRUM_OK);
    assert_int_equal(thrum_recorder_unmark(r, "wrong"), THRUM_OK);
    assert_int_equal(thrum_recorder_unmark(r, "wrong"), THRUM_ERR_NOT_FOUND);
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    assert_true(take_exists(f->path));
    take_end(r);
    assert_false(take_exists(f->path));
    const struct thrum_mark want[] = {{.first = 0, .end = 4000, .label = "gr\xC3\xA4u 1"},
                                      {.first = 4800, .end = 9600, .label = "w02"},
                                      {.first = 12000, .end = 47999, .label = "w02"}, /* cut to the end */
                                      {.first = 30000, .end = 0, .label = "point"}};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    take_assert_marks(f->path, want, 4);
    assert_int_equal(take_check(f->path, 0), 47999);
    assert_int_equal(take_u32_at(f->path, 4), take_size(f->path) - 8);
    /* and by the library of the distribution */
    SF_INFO info = {.format = 0};
    SF_CUES cues;
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    memset(&cues, 0, sizeof cues);
    assert_int_equal(sf_command(file, SFC_GET_CUE, &cues, sizeof cues), SF_TRUE);
    assert_int_equal(cues.cue_count, 4);
    assert_int_equal(cues.cue_points[1].sample_offset, 4800);
    assert_string_equal(cues.cue_points[1].name, "w02");
    assert_string_equal(sf_get_string(file, SF_STR_COMMENT), TAKE_ABOUT);
    sf_close(file);
    struct thrum_source *source = NULL;
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_string_equal(thrum_source_about(source), TAKE_ABOUT);
    thrum_source_close(source);
}

#define T(name) cmocka_unit_test_setup_teardown(name, take_set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(every_24_bit_sample_is_kept_exactly),
        T(two_equal_takes_are_equal_files),
        T(a_name_is_never_used_twice),
        T(the_folder_is_made_and_slashes_stay_out_of_the_name),
        T(bad_settings_and_places_are_refused_with_words),
        T(a_take_without_a_frame_leaves_nothing),
        T(wild_samples_are_cleaned_and_limited),
        T(lost_frames_are_zeros_so_that_numbers_stay),
        T(marks_with_labels_and_lengths_are_in_the_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
