/* Recordings that survive: names, marks, kills, full disks, wild samples. */
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
#include "wav_bytes.h"

#define RATE  48000.0
#define ABOUT "{\"zone\":7,\"part\":1,\"first_frame\":0}"

struct fixture {
    char folder[200];
    char path[400];
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

static struct thrum_recorder *begin(const struct fixture *f, const char *stem, int channels)
{
    struct thrum_recorder_config config = {
        .folder = f->folder, .stem = stem, .rate_hz = RATE, .channels = channels, .about = "{\"zone\":7}"};
    struct thrum_recorder *r = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_recorder_create(&config, &r, &message);
    if (status != THRUM_OK) {
        fail_msg("%s", message.text);
    }
    return r;
}

static void end(struct thrum_recorder *r)
{
    struct thrum_message message;
    if (thrum_recorder_close(r, &message) != THRUM_OK) {
        fail_msg("%s", message.text);
    }
}

/* A value that tells its frame: n / 2^23, exact in 24 bits. */
static float numbered(uint64_t frame)
{
    return (float)((int64_t)(frame % 8000000) - 4000000) / 8388608.0f;
}

static enum thrum_status write_numbered(struct thrum_recorder *r, uint64_t first, size_t n,
                                        struct thrum_message *message)
{
    float block[4096];
    enum thrum_status status = THRUM_OK;
    while (n > 0 && status == THRUM_OK) {
        size_t take = n < 4096 ? n : 4096;
        for (size_t i = 0; i < take; i++) {
            block[i] = numbered(first + i);
        }
        status = thrum_recorder_write(r, block, take, message);
        first += take;
        n -= take;
    }
    return status;
}

/* By the library of the distribution, not by our reader. Returns the frames; each must be its number + first. */
static uint64_t check_numbered(const char *path, uint64_t first)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    int block[4096];
    uint64_t frames = 0;
    uint64_t wrong = 0;
    sf_count_t got;
    while ((got = sf_readf_int(file, block, 4096)) > 0) {
        for (sf_count_t i = 0; i < got; i++, frames++) {
            wrong += block[i] / 256 != (int)((int64_t)((first + frames) % 8000000) - 4000000) ? 1 : 0;
        }
    }
    assert_int_equal(info.frames, frames);
    assert_int_equal(wrong, 0);
    sf_close(file);
    return frames;
}

static bool exists(const char *path)
{
    struct stat about;
    return lstat(path, &about) == 0;
}

static long size_of(const char *path)
{
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    return (long)about.st_size;
}

static uint32_t u32_at(const char *path, long at)
{
    unsigned char b[4];
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_int_equal(fread(b, 1, 4, file), 4);
    fclose(file);
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 | b[0];
}

/* What the data chunk's header says. */
static uint32_t data_size(const char *path)
{
    long at = 12;
    while (u32_at(path, at) != 0x61746164u) { /* "data" */
        at += 8 + (long)u32_at(path, at + 4);
    }
    return u32_at(path, at + 4);
}

static void assert_marks(const char *path, const struct thrum_mark *want, size_t n)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    struct thrum_mark got[16];
    if (thrum_source_open_file(path, &source, &message) != THRUM_OK) {
        fail_msg("%s", message.text);
    }
    assert_int_equal(thrum_source_marks(source, got, 16), n);
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(got[i].first, want[i].first);
        assert_int_equal(got[i].end, want[i].end);
        assert_string_equal(got[i].label, want[i].label);
    }
    thrum_source_close(source);
}

/* ---- the ordinary ----------------------------------------------------------------------------- */

static void every_24_bit_sample_is_kept_exactly(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = begin(f, "take", 1);
    assert_int_equal(write_numbered(r, 0, 100001, &message), THRUM_OK); /* odd: the data needs a pad byte */
    assert_int_equal(thrum_recorder_frames(r), 100001);
    end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 0), 100001);
    assert_int_equal(u32_at(f->path, 4), size_of(f->path) - 8);
    assert_int_equal(size_of(f->path) % 2, 0);
}

static void two_equal_takes_are_equal_files(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    char other[400];
    for (int i = 0; i < 2; i++) {
        struct thrum_recorder *r = begin(f, i ? "b" : "a", 1);
        assert_int_equal(write_numbered(r, 0, 5000, &message), THRUM_OK);
        end(r);
    }
    snprintf(f->path, sizeof f->path, "%s/a.wav", f->folder);
    snprintf(other, sizeof other, "%s/b.wav", f->folder);
    assert_int_equal(size_of(f->path), size_of(other));
    for (long at = 0; at + 4 <= size_of(other); at += 4) {
        assert_int_equal(u32_at(f->path, at), u32_at(other, at));
    }
}

static void a_name_is_never_used_twice(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    char link_path[400];
    char target[400];
    snprintf(target, sizeof target, "%s/elsewhere", f->folder);
    snprintf(link_path, sizeof link_path, "%s/take_2.wav", f->folder);
    assert_int_equal(symlink(target, link_path), 0); /* a trap: must be neither followed nor replaced */
    static const char *const names[] = {"take.wav", "take_3.wav", "take_4.wav"};
    for (size_t i = 0; i < 3; i++) {
        struct thrum_recorder *r = begin(f, "take", 1);
        snprintf(f->path, sizeof f->path, "%s/%s", f->folder, names[i]);
        assert_string_equal(thrum_recorder_path(r), f->path);
        assert_int_equal(write_numbered(r, 0, 10, &message), THRUM_OK);
        end(r);
        assert_true(exists(f->path));
    }
    assert_false(exists(target));
}

static void the_folder_is_made_and_slashes_stay_out_of_the_name(void **state)
{
    struct fixture *f = *state;
    char folder[300];
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    snprintf(folder, sizeof folder, "%s/new", f->folder);
    struct thrum_recorder_config config = {.folder = folder, .stem = "../x", .rate_hz = RATE, .channels = 1};
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
    assert_int_equal(write_numbered(r, 0, 10, &message), THRUM_OK);
    end(r);
    snprintf(f->path, sizeof f->path, "%s/.._x.wav", folder);
    assert_true(exists(f->path));
}

static void bad_settings_and_places_are_refused_with_words(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct thrum_recorder_config config = {.folder = f->folder, .stem = "", .rate_hz = RATE, .channels = 1};
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
    struct fixture *f = *state;
    struct thrum_mark mark = {.first = 0, .end = 5, .label = "w01"};
    struct thrum_recorder *r = begin(f, "take", 2);
    assert_int_equal(thrum_recorder_mark(r, &mark), THRUM_OK);
    end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_false(exists(f->path));
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    assert_false(exists(f->path));
}

/* ---- samples ---------------------------------------------------------------------------------- */

static void wild_samples_are_cleaned_and_limited(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = begin(f, "take", 1);
    const float in[] = {0.25f, NAN, INFINITY, -INFINITY, 1.0001f, 1.5f, -1.0f, -7.0f, 1e30f, 0.25f};
    const int out[] = {2097152, 0, 0, 0, 8388607, 8388607, -8388608, -8388608, 8388607, 2097152};
    assert_int_equal(thrum_recorder_write(r, in, 10, &message), THRUM_OK);
    end(r);
    SF_INFO info = {.format = 0};
    int got[16] = {0};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(sf_readf_int(file, got, 16), 10);
    for (int i = 0; i < 10; i++) {
        assert_int_equal(got[i] / 256, out[i]);
    }
    sf_close(file);
}

static void lost_frames_are_zeros_so_that_numbers_stay(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = begin(f, "take", 1);
    assert_int_equal(write_numbered(r, 0, 100, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_lost(r, 20000, &message), THRUM_OK);
    assert_int_equal(write_numbered(r, 20100, 100, &message), THRUM_OK);
    end(r);
    SF_INFO info = {.format = 0};
    int got[20200];
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    assert_int_equal(sf_readf_int(file, got, 20200), 20200);
    assert_int_equal(got[99] / 256, 99 - 4000000);
    for (int i = 100; i < 20100; i++) {
        assert_int_equal(got[i], 0);
    }
    assert_int_equal(got[20100] / 256, 20100 - 4000000);
    sf_close(file);
}

/* ---- marks ------------------------------------------------------------------------------------ */

static void marks_with_labels_and_lengths_are_in_the_file(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = begin(f, "take", 1);
    const struct thrum_mark made[] = {{.first = 4800, .end = 9600, .label = "w02"},
                                      {.first = 100, .end = 200, .label = "wrong"},
                                      {.first = 0, .end = 4000, .label = "gr\xC3\xA4u\n1"},
                                      {.first = 30000, .end = 0, .label = "point"},
                                      {.first = 12000, .end = 99999999, .label = "w02"}};
    assert_int_equal(write_numbered(r, 0, 47999, &message), THRUM_OK);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(thrum_recorder_mark(r, &made[i]), THRUM_OK);
    }
    assert_int_equal(thrum_recorder_unmark(r, "wrong"), THRUM_OK);
    assert_int_equal(thrum_recorder_unmark(r, "wrong"), THRUM_ERR_NOT_FOUND);
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    assert_true(exists(f->path));
    end(r);
    assert_false(exists(f->path));
    const struct thrum_mark want[] = {{.first = 0, .end = 4000, .label = "gr\xC3\xA4u 1"},
                                      {.first = 4800, .end = 9600, .label = "w02"},
                                      {.first = 12000, .end = 47999, .label = "w02"}, /* cut to the end */
                                      {.first = 30000, .end = 0, .label = "point"}};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_marks(f->path, want, 4);
    assert_int_equal(check_numbered(f->path, 0), 47999);
    assert_int_equal(u32_at(f->path, 4), size_of(f->path) - 8);
    /* and by the library of the distribution */
    SF_INFO info = {.format = 0};
    SF_CUES cues;
    SNDFILE *file = sf_open(f->path, SFM_READ, &info);
    memset(&cues, 0, sizeof cues);
    assert_int_equal(sf_command(file, SFC_GET_CUE, &cues, sizeof cues), SF_TRUE);
    assert_int_equal(cues.cue_count, 4);
    assert_int_equal(cues.cue_points[1].sample_offset, 4800);
    assert_string_equal(cues.cue_points[1].name, "w02");
    assert_string_equal(sf_get_string(file, SF_STR_COMMENT), ABOUT);
    sf_close(file);
    struct thrum_source *source = NULL;
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_string_equal(thrum_source_about(source), ABOUT);
    thrum_source_close(source);
}

/* ---- parts ------------------------------------------------------------------------------------ */

static void a_new_part_begins_without_losing_a_frame(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct recorder_limits limits = recorder_limits_default();
    struct thrum_recorder_config config = {
        .folder = f->folder, .stem = "long", .rate_hz = RATE, .channels = 1};
    limits.part_bytes = 3 * 10000;
    assert_int_equal(recorder_create_limited(&config, &limits, &r, &message), THRUM_OK);
    assert_int_equal(write_numbered(r, 0, 25000, &message), THRUM_OK);
    const struct thrum_mark over = {
        .first = 9000, .end = 11000, .label = "w01"}; /* made when part 1 is long closed */
    const struct thrum_mark last = {.first = 20500, .end = 21000, .label = "w02"};
    assert_int_equal(thrum_recorder_mark(r, &over), THRUM_OK);
    assert_int_equal(thrum_recorder_mark(r, &last), THRUM_OK);
    snprintf(f->path, sizeof f->path, "%s/long-part3.wav", f->folder);
    assert_string_equal(thrum_recorder_path(r), f->path);
    assert_int_equal(thrum_recorder_frames(r), 25000);
    end(r);
    const struct thrum_mark want1 = {.first = 9000, .end = 10000, .label = "w01"};
    const struct thrum_mark want2 = {.first = 0, .end = 1000, .label = "w01"};
    const struct thrum_mark want3 = {.first = 500, .end = 1000, .label = "w02"};
    snprintf(f->path, sizeof f->path, "%s/long.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 0), 10000);
    assert_marks(f->path, &want1, 1);
    snprintf(f->path, sizeof f->path, "%s/long-part2.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 10000), 10000);
    assert_marks(f->path, &want2, 1);
    snprintf(f->path, sizeof f->path, "%s/long-part3.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 20000), 5000);
    assert_marks(f->path, &want3, 1);
}

/* Three seconds away: nothing is written for them, and the new file says where it belongs and when it begins. */
static void a_long_gap_begins_a_new_part_that_knows_its_time(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct thrum_recorder_config config = {.folder = f->folder,
                                           .stem = "gap",
                                           .rate_hz = RATE,
                                           .channels = 1,
                                           .about = "{}",
                                           .software = "thrum test",
                                           .start_unix_ms =
                                               86399500}; /* half a second before the second day */
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
    assert_int_equal(write_numbered(r, 0, 48000, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_lost(r, 144000, &message), THRUM_OK);
    assert_int_equal(write_numbered(r, 192000, 1000, &message), THRUM_OK);
    const struct thrum_mark touch = {.first = 192100, .end = 192200, .label = "w05"};
    assert_int_equal(thrum_recorder_mark(r, &touch), THRUM_OK);
    assert_int_equal(thrum_recorder_frames(r), 49000);
    assert_int_equal(thrum_recorder_position(r), 193000);
    assert_int_equal(thrum_recorder_parts(r), 2);
    end(r);
    snprintf(f->path, sizeof f->path, "%s/gap.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 0), 48000);
    snprintf(f->path, sizeof f->path, "%s/gap-part2.wav", f->folder);
    assert_int_equal(check_numbered(f->path, 192000), 1000);
    const struct thrum_mark want = {.first = 100, .end = 200, .label = "w05"};
    assert_marks(f->path, &want, 1);
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

/* ---- kills ------------------------------------------------------------------------------------ */

/* A child records as fast as it can and tells how far it is; it is killed at a random point. */
static void record_until_killed(const struct fixture *f, int tell)
{
    struct thrum_recorder *r = begin(f, "killed", 1);
    struct thrum_message message;
    const struct thrum_mark mark = {.first = 10, .end = 20, .label = "w09"};
    if (thrum_recorder_mark(r, &mark) != THRUM_OK) {
        _exit(1);
    }
    for (uint64_t first = 0;; first += 997) {
        if (write_numbered(r, first, 997, &message) != THRUM_OK || write(tell, &first, sizeof first) < 0) {
            _exit(1);
        }
    }
}

static void kill_9_loses_at_most_a_second(void **state)
{
    struct fixture *f = *state;
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
        uint64_t frames = check_numbered(f->path, 0);
        assert_true(frames + 48000 >= reached + 997);
        /* ours reads what is there, and finds the mark in the journal */
        const struct thrum_mark want = {.first = 10, .end = 20, .label = "w09"};
        assert_marks(f->path, &want, 1);
        unlink(f->path);
        snprintf(f->path, sizeof f->path, "%s/killed.wav.marks", f->folder);
        unlink(f->path);
    }
}

static void a_half_written_journal_line_does_not_count(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = begin(f, "take", 1);
    assert_int_equal(write_numbered(r, 0, 5000, &message), THRUM_OK);
    end(r);
    snprintf(f->path, sizeof f->path, "%s/take.wav.marks", f->folder);
    FILE *journal = fopen(f->path, "w");
    fputs("mark 10 20 w01\nnonsense\nmark 30 40 w02\nunmark w01\nmark x y z\nmark 50 60 w03\nmark 70 8",
          journal);
    fclose(journal);
    const struct thrum_mark want[] = {{.first = 30, .end = 40, .label = "w02"},
                                      {.first = 50, .end = 60, .label = "w03"}};
    snprintf(f->path, sizeof f->path, "%s/take.wav", f->folder);
    assert_marks(f->path, want, 2);
}

/* ---- full disks ------------------------------------------------------------------------------- */

/* In a child: a limit on the size of files stands in for the end of the disk. Exit status 0 = as it should be. */
static int child_fills_the_disk(const struct fixture *f, rlim_t limit, const char *result)
{
    struct rlimit size = {.rlim_cur = limit, .rlim_max = limit};
    struct thrum_message message;
    struct thrum_message again;
    signal(SIGXFSZ, SIG_IGN);
    struct thrum_recorder *r = begin(f, "full", 1);
    const struct thrum_mark mark = {.first = 10, .end = 20, .label = "w09"};
    setrlimit(RLIMIT_FSIZE, &size);
    enum thrum_status status = THRUM_OK;
    uint64_t first = 0;
    while (status == THRUM_OK && first < 10000000) {
        status = write_numbered(r, first, 997, &message);
        first += 997;
    }
    if (status != THRUM_ERR_FULL || strncmp(message.text, "NOT RECORDING: disk full", 24) != 0) {
        return 1;
    }
    if (write_numbered(r, 0, 10, &again) != THRUM_ERR_FULL || strcmp(again.text, message.text) != 0) {
        return 2; /* it must go on saying so */
    }
    if (thrum_recorder_mark(r, &mark) != THRUM_OK) {
        return 3;
    }
    uint64_t frames = thrum_recorder_frames(r);
    if (thrum_recorder_close(r, &message) != THRUM_ERR_FULL) {
        return 4;
    }
    size.rlim_cur = size.rlim_max;
    FILE *out = fopen(result, "w");
    return out && fprintf(out, "%llu", (unsigned long long)frames) > 0 && fclose(out) == 0 ? 0 : 5;
}

static void a_full_disk_keeps_what_was_written(void **state)
{
    struct fixture *f = *state;
    static const rlim_t limits[] = {1000, 100000, 100001, 100002, 2000003};
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
        char result[300];
        unsigned long long told = 0;
        snprintf(result, sizeof result, "%s/result", f->folder);
        pid_t child = fork();
        if (child == 0) {
            _exit(child_fills_the_disk(f, limits[i], result));
        }
        int status = 0;
        waitpid(child, &status, 0);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
        FILE *in = fopen(result, "r");
        assert_int_equal(fscanf(in, "%llu", &told), 1);
        fclose(in);
        snprintf(f->path, sizeof f->path, "%s/full.wav", f->folder);
        uint64_t frames = check_numbered(f->path, 0);
        assert_int_equal(frames, told);
        assert_int_equal(data_size(f->path), frames * 3); /* no piece of a frame */
        assert_true(size_of(f->path) <= (long)limits[i]);
        /* all that fitted, but for the header, a part of a block, and 64 KiB kept for the marks */
        assert_true(frames * 3 + 200 + (limits[i] > 1000000 ? 65536 : 0) >= limits[i]);
        const struct thrum_mark want = {.first = 10, .end = 20, .label = "w09"};
        assert_marks(f->path, &want, 1); /* in the file where they fit, else in the journal */
        char journal[420];
        snprintf(journal, sizeof journal, "%s.marks", f->path);
        assert_int_equal(exists(journal), limits[i] < 1000000);
        unlink(f->path);
        snprintf(f->path, sizeof f->path, "%s/full.wav.marks", f->folder);
        unlink(f->path);
    }
}

static void little_room_is_said_once(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_recorder *r = NULL;
    struct recorder_limits limits = recorder_limits_default();
    struct thrum_recorder_config config = {.folder = f->folder, .stem = "x", .rate_hz = RATE, .channels = 1};
    limits.warn_s = 1e15;
    assert_int_equal(recorder_create_limited(&config, &limits, &r, &message), THRUM_OK);
    assert_non_null(strstr(message.text, "nearly full"));
    assert_true(thrum_recorder_room_s(r) > 0.0);
    assert_int_equal(write_numbered(r, 0, 500000, &message), THRUM_OK);
    assert_string_equal(message.text, "");
    end(r);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

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
        T(a_new_part_begins_without_losing_a_frame),
        T(a_long_gap_begins_a_new_part_that_knows_its_time),
        T(kill_9_loses_at_most_a_second),
        T(a_half_written_journal_line_does_not_count),
        T(a_full_disk_keeps_what_was_written),
        T(little_room_is_said_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
