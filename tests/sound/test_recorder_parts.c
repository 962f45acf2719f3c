/* Recordings that survive: several parts, another input, kills, full disks. */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "signals.h"
#include "sound/recorder.h"
#include "sound/recorder_own.h"
#include "takes.h"
#include "wav_bytes.h"

/* ---- parts ------------------------------------------------------------------------------------ */

static void a_new_part_begins_without_losing_a_frame(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct recorder_limits limits = recorder_limits_default();
    struct thrum_recorder_config config = {
        .folder = f->folder, .stem = "long", .rate_hz = TAKE_RATE, .channels = 1};
    limits.part_bytes = 3 * 10000;
    assert_int_equal(recorder_create_limited(&config, &limits, &r, &message), THRUM_OK);
    assert_int_equal(take_write(r, 0, 25000, &message), THRUM_OK);
    const struct thrum_mark over = {
        .first = 9000, .end = 11000, .label = "w01"}; /* made when part 1 is long closed */
    const struct thrum_mark last = {.first = 20500, .end = 21000, .label = "w02"};
    assert_int_equal(thrum_recorder_mark(r, &over), THRUM_OK);
    assert_int_equal(thrum_recorder_mark(r, &last), THRUM_OK);
    snprintf(f->path, sizeof f->path, "%s/long-part3.wav", f->folder);
    assert_string_equal(thrum_recorder_path(r), f->path);
    assert_int_equal(thrum_recorder_frames(r), 25000);
    take_end(r);
    const struct thrum_mark want1 = {.first = 9000, .end = 10000, .label = "w01"};
    const struct thrum_mark want2 = {.first = 0, .end = 1000, .label = "w01"};
    const struct thrum_mark want3 = {.first = 500, .end = 1000, .label = "w02"};
    snprintf(f->path, sizeof f->path, "%s/long.wav", f->folder);
    assert_int_equal(take_check(f->path, 0), 10000);
    take_assert_marks(f->path, &want1, 1);
    snprintf(f->path, sizeof f->path, "%s/long-part2.wav", f->folder);
    assert_int_equal(take_check(f->path, 10000), 10000);
    take_assert_marks(f->path, &want2, 1);
    snprintf(f->path, sizeof f->path, "%s/long-part3.wav", f->folder);
    assert_int_equal(take_check(f->path, 20000), 5000);
    take_assert_marks(f->path, &want3, 1);
}

/* Three seconds away: nothing is written for them, and the new file says where it belongs and when it begins. */
static void a_long_gap_begins_a_new_part_that_knows_its_time(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct thrum_recorder_config config = {.folder = f->folder,
                                           .stem = "gap",
                                           .rate_hz = TAKE_RATE,
                                           .channels = 1,
                                           .about = "{}",
                                           .software = "thrum test",
                                           .start_unix_ms =
                                               86399500}; /* half a second before the second day */
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
    assert_int_equal(take_write(r, 0, 48000, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_lost(r, 144000, &message), THRUM_OK);
    assert_int_equal(take_write(r, 192000, 1000, &message), THRUM_OK);
    const struct thrum_mark touch = {.first = 192100, .end = 192200, .label = "w05"};
    assert_int_equal(thrum_recorder_mark(r, &touch), THRUM_OK);
    assert_int_equal(thrum_recorder_frames(r), 49000);
    assert_int_equal(thrum_recorder_position(r), 193000);
    assert_int_equal(thrum_recorder_parts(r), 2);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/gap.wav", f->folder);
    assert_int_equal(take_check(f->path, 0), 48000);
    snprintf(f->path, sizeof f->path, "%s/gap-part2.wav", f->folder);
    assert_int_equal(take_check(f->path, 192000), 1000);
    const struct thrum_mark want = {.first = 100, .end = 200, .label = "w05"};
    take_assert_marks(f->path, &want, 1);
    SF_INFO info = {.format = 0};
    SF_BROADCAST_INFO bext;
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    assert_non_null(file);
    assert_string_equal(sf_get_string(file, SF_STR_COMMENT),
                        "{\"part\":2,\"first_frame\":192000,\"start\":\"1970-01-02T00:00:03.500Z\","
                        "\"gap_before_s\":3.000000}");
    assert_int_equal(sf_command(file, SFC_GET_BROADCAST_INFO, &bext, sizeof bext), SF_TRUE);
    assert_memory_equal(bext.origination_date, "1970-01-02", 10);
    assert_memory_equal(bext.origination_time, "00:00:03", 8);
    assert_int_equal(bext.time_reference_low, 168000); /* EBU Tech 3285: samples since midnight */
    sf_close(file);
}

/* ---- another input ---------------------------------------------------------------------------- */

static void about_of(const char *path, char *about, size_t size)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
    snprintf(about, size, "%s", thrum_source_about(source));
    thrum_source_close(source);
}

static void another_input_begins_a_part_that_says_so(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    char about[400];
    struct thrum_recorder *r = take_begin(f, "take", 1);
    assert_int_equal(take_write(r, 0, 4800, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_lost(r, 480, &message),
                     THRUM_OK); /* a short gap: zeros, in the first part */
    assert_int_equal(thrum_recorder_other(r, "{\"input\":\"b\"}"), THRUM_OK);
    assert_int_equal(thrum_recorder_parts(r), 1);
    assert_int_equal(take_write(r, 5280, 4800, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_parts(r), 2);
    assert_int_equal(thrum_recorder_position(r), 10080);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    about_of(f->path, about, sizeof about);
    assert_non_null(strstr(about, "\"zone\":7"));
    snprintf(f->path, sizeof f->path, "%s/take-part2.wav", f->folder);
    about_of(f->path, about, sizeof about);
    assert_non_null(strstr(about, "\"input\":\"b\""));
    assert_non_null(strstr(about, "\"first_frame\":5280"));
    assert_null(strstr(about, "zone"));
    assert_int_equal(take_check(f->path, 5280), 4800);
}

/* The first input was lost before it gave a frame. */
static void an_input_that_gave_nothing_leaves_no_file(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    char about[400];
    struct thrum_recorder *r = take_begin(f, "take", 1);
    assert_int_equal(thrum_recorder_other(r, "{\"input\":\"b\"}"), THRUM_OK);
    assert_int_equal(take_write(r, 0, 4800, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_parts(r), 1);
    snprintf(f->path, sizeof f->path, "%s", thrum_recorder_path(r));
    take_end(r);
    about_of(f->path, about, sizeof about);
    assert_non_null(strstr(about, "\"input\":\"b\""));
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_false(take_exists(f->path));
}

/* ---- kills ------------------------------------------------------------------------------------ */

/* A child records as fast as it can and tells how far it is; it is killed at a random point. */
static void record_until_killed(const struct take_fixture *f, int tell)
{
    struct thrum_recorder *r = take_begin(f, "killed", 1);
    struct thrum_message message;
    const struct thrum_mark mark = {.first = 10, .end = 20, .label = "w09"};
    if (thrum_recorder_mark(r, &mark) != THRUM_OK)
        _exit(1);
    for (uint64_t first = 0;; first += 997)
        if (take_write(r, first, 997, &message) != THRUM_OK || write(tell, &first, sizeof first) < 0)
            _exit(1);
}

static void kill_9_loses_at_most_a_second(void **state)
{
    struct take_fixture *f = *state;
    struct rng rng = rng_seeded(5);
    for (int round = 0; round < 20; round++) {
        int tell[2];
        uint64_t reached = 0;
        assert_int_equal(pipe(tell), 0);
        pid_t child = fork();
        if (child == 0) {
            close(tell[0]);
            record_until_killed(f, tell[1]);
        }
        close(tell[1]);
        uint64_t enough = (uint64_t)(rng_uniform(&rng) * 400000.0);
        while (reached < enough && read(tell[0], &reached, sizeof reached) == (ssize_t)sizeof reached) {
        }
        kill(child, SIGKILL);
        while (read(tell[0], &reached, sizeof reached) == (ssize_t)sizeof reached) {
        }
        close(tell[0]);
        int status = 0;
        waitpid(child, &status, 0);
        assert_true(WIFSIGNALED(status));
        snprintf(f->path, sizeof f->path, "%s/killed.wav", f->folder);
        /* a strict reader trusts the header: at most a second less than was written */
        uint64_t frames = take_check(f->path, 0);
        assert_true(frames + 48000 >= reached + 997);
        /* ours reads what is there, and finds the mark in the journal */
        const struct thrum_mark want = {.first = 10, .end = 20, .label = "w09"};
        take_assert_marks(f->path, &want, 1);
        unlink(f->path);
        snprintf(f->path, sizeof f->path, "%s/killed.wav.marks", f->folder);
        unlink(f->path);
    }
}

static void a_half_written_journal_line_does_not_count(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = take_begin(f, "take", 1);
    assert_int_equal(take_write(r, 0, 5000, &message), THRUM_OK);
    take_end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    FILE *journal = fopen(f->path, "w");
    fputs("mark 10 20 w01\nnonsense\nmark 30 40 w02\nunmark w01\nmark x y z\nmark 50 60 w03\nmark 70 8",
          journal);
    fclose(journal);
    const struct thrum_mark want[] = {{.first = 30, .end = 40, .label = "w02"},
                                      {.first = 50, .end = 60, .label = "w03"}};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    take_assert_marks(f->path, want, 2);
}

/* ---- full disks ------------------------------------------------------------------------------- */

/* In a child: a limit on the size of files stands in for the end of the disk. Exit status 0 = as it should be. */
static int child_fills_the_disk(const struct take_fixture *f, rlim_t limit, const char *result)
{
    struct rlimit size = {.rlim_cur = limit, .rlim_max = limit};
    struct thrum_message message;
    struct thrum_message again;
    signal(SIGXFSZ, SIG_IGN);
    struct thrum_recorder *r = take_begin(f, "full", 1);
    const struct thrum_mark mark = {.first = 10, .end = 20, .label = "w09"};
    setrlimit(RLIMIT_FSIZE, &size);
    enum thrum_status status = THRUM_OK;
    uint64_t first = 0;
    while (status == THRUM_OK && first < 10000000) {
        status = take_write(r, first, 997, &message);
        first += 997;
    }
    if (status != THRUM_ERR_FULL || strncmp(message.text, "NOT RECORDING: disk full", 24) != 0)
        return 1;
    if (take_write(r, 0, 10, &again) != THRUM_ERR_FULL || strcmp(again.text, message.text) != 0)
        return 2; /* it must go on saying so */
    if (thrum_recorder_mark(r, &mark) != THRUM_OK)
        return 3;
    uint64_t frames = thrum_recorder_frames(r);
    if (thrum_recorder_close(r, &message) != THRUM_ERR_FULL)
        return 4;
    size.rlim_cur = size.rlim_max;
    FILE *out = fopen(result, "w");
    return out && fprintf(out, "%llu", (unsigned long long)frames) > 0 && fclose(out) == 0 ? 0 : 5;
}

static void a_full_disk_keeps_what_was_written(void **state)
{
    struct take_fixture *f = *state;
    static const rlim_t limits[] = {1000, 100000, 100001, 100002, 2000003};
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
        char result[300];
        unsigned long long told = 0;
        snprintf(result, sizeof result, "%s/result", f->folder);
        pid_t child = fork();
        if (child == 0)
            _exit(child_fills_the_disk(f, limits[i], result));
        int status = 0;
        waitpid(child, &status, 0);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
        FILE *in = fopen(result, "r");
        assert_int_equal(fscanf(in, "%llu", &told), 1);
        fclose(in);
        snprintf(f->path, sizeof f->path, "%s/full.wav", f->folder);
        uint64_t frames = take_check(f->path, 0);
        assert_int_equal(frames, told);
        assert_int_equal(take_data_size(f->path), frames * 3); /* no piece of a frame */
        assert_true(take_size(f->path) <= (long)limits[i]);
        /* all that fitted, but for the header, a part of a block, and 64 KiB kept for the marks */
        assert_true(frames * 3 + 200 + (limits[i] > 1000000 ? 65536 : 0) >= limits[i]);
        const struct thrum_mark want = {.first = 10, .end = 20, .label = "w09"};
        take_assert_marks(f->path, &want, 1); /* in the file where they fit, else in the journal */
        char journal[420];
        snprintf(journal, sizeof journal, "%s.marks", f->path);
        assert_int_equal(take_exists(journal), limits[i] < 1000000);
        unlink(f->path);
        snprintf(f->path, sizeof f->path, "%s/full.wav.marks", f->folder);
        unlink(f->path);
    }
}

static void little_room_is_said_once(void **state)
{
    struct take_fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct recorder_limits limits = recorder_limits_default();
    struct thrum_recorder_config config = {
        .folder = f->folder, .stem = "x", .rate_hz = TAKE_RATE, .channels = 1};
    limits.warn_s = 1e15;
    assert_int_equal(recorder_create_limited(&config, &limits, &r, &message), THRUM_OK);
    assert_non_null(strstr(message.text, "nearly full"));
    assert_true(thrum_recorder_room_s(r) > 0.0);
    assert_int_equal(take_write(r, 0, 500000, &message), THRUM_OK);
    assert_string_equal(message.text, "");
    take_end(r);
}

#define T(name) cmocka_unit_test_setup_teardown(name, take_set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(a_new_part_begins_without_losing_a_frame),
        T(a_long_gap_begins_a_new_part_that_knows_its_time),
        T(another_input_begins_a_part_that_says_so),
        T(an_input_that_gave_nothing_leaves_no_file),
        T(kill_9_loses_at_most_a_second),
        T(a_half_written_journal_line_does_not_count),
        T(a_full_disk_keeps_what_was_written),
        T(little_room_is_said_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
