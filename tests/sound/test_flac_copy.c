/* FLAC copies of recordings: the same sound and marks, nothing replaced, nothing left of a copy that failed. */
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
#include "sound/flac_copy.h"
#include "sound/recorder.h"
#include "wav_bytes.h"

#define FRAMES 50001
#define MARKS  300
#define ABOUT  "{\"thrum\":\"x\",\"part\":1,\"first_frame\":0}"

struct fixture {
    char folder[200];
    char wav[300], flac[300];
};

static int set_up(void **state)
{
    return wb_fixture_make(state, sizeof(struct fixture));
}

static bool exists(const char *path)
{
    struct stat about;
    return lstat(path, &about) == 0;
}

/* Noise: what cannot be packed shows every mistake. */
static void record(struct fixture *f, int channels)
{
    struct thrum_recorder *r;
    struct thrum_message message;
    struct rng rng = rng_seeded(3);
    struct thrum_recorder_config config = {.folder = f->folder,
                                           .stem = "take",
                                           .rate_hz = 48000.0,
                                           .channels = channels,
                                           .about = "{\"thrum\":\"x\"}",
                                           .software = "thrum test"};
    float *samples = malloc(sizeof *samples * FRAMES * (size_t)channels);
    for (size_t i = 0; i < (size_t)FRAMES * (size_t)channels; i++)
        samples[i] = (float)rng_between(&rng, -1.0, 1.0);
    assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
    assert_int_equal(thrum_recorder_write(r, samples, FRAMES, &message), THRUM_OK);
    for (int i = 0; i < MARKS; i++) {
        struct thrum_mark mark = {.first = (uint64_t)i * 160, .end = (uint64_t)i * 160 + 100};
        snprintf(mark.label, sizeof mark.label, "gr\xC3\xA4u %d", i);
        assert_int_equal(thrum_recorder_mark(r, &mark), THRUM_OK);
    }
    assert_int_equal(thrum_recorder_close(r, &message), THRUM_OK);
    free(samples);
    snprintf(f->wav, sizeof f->wav, "%s/take.wav", f->folder);
}

static void a_copy_has_every_sample_and_mark(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    struct thrum_mark mark[MARKS + 1];
    struct thrum_source *source;
    SF_INFO a_info = {.format = 0}, b_info = {.format = 0};
    int a[200], b[200];
    record(f, 2);
    assert_int_equal(thrum_flac_copy(f->wav, f->flac, sizeof f->flac, &message), THRUM_OK);
    char want[300];
    snprintf(want, sizeof want, "%s/take.flac", f->folder);
    assert_string_equal(f->flac, want);
    SNDFILE *one = sf_open(f->wav, SFM_READ, &a_info), *other = sf_open(f->flac, SFM_READ, &b_info);
    assert_int_equal(b_info.format, SF_FORMAT_FLAC | SF_FORMAT_PCM_24);
    assert_int_equal(b_info.frames, FRAMES);
    assert_int_equal(b_info.samplerate, 48000);
    sf_count_t got;
    while ((got = sf_readf_int(one, a, 100)) > 0) {
        assert_int_equal(sf_readf_int(other, b, 100), got);
        assert_memory_equal(a, b, (size_t)got * 2 * sizeof a[0]);
    }
    assert_string_equal(sf_get_string(other, SF_STR_SOFTWARE), sf_get_string(one, SF_STR_SOFTWARE));
    sf_close(one);
    sf_close(other);
    assert_int_equal(thrum_source_open_file(f->flac, &source, &message), THRUM_OK);
    assert_string_equal(thrum_source_about(source), ABOUT);
    assert_int_equal(thrum_source_marks(source, mark, MARKS + 1), MARKS);
    for (int i = 0; i < MARKS; i++) {
        char label[64];
        snprintf(label, sizeof label, "gr\xC3\xA4u %d", i);
        assert_string_equal(mark[i].label, label);
        assert_int_equal(mark[i].first, i * 160);
        assert_int_equal(mark[i].end, i * 160 + 100);
    }
    thrum_source_close(source);
    assert_true(exists(f->wav));
}

static void a_copy_replaces_nothing(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    char trap[300], want[400];
    record(f, 1);
    snprintf(trap, sizeof trap, "%s/take.flac", f->folder);
    assert_int_equal(symlink("elsewhere", trap), 0);
    for (int number = 2; number < 4; number++) {
        assert_int_equal(thrum_flac_copy(f->wav, f->flac, sizeof f->flac, &message), THRUM_OK);
        snprintf(want, sizeof want, "%s/take_%d.flac", f->folder, number);
        assert_string_equal(f->flac, want);
    }
    snprintf(want, sizeof want, "%s/elsewhere", f->folder);
    assert_false(exists(want));
    snprintf(want, sizeof want, "%s.flac-unfinished", f->wav);
    assert_false(exists(want));
}

/* In a child, since the limit stays: it stands in for a full disk. */
static void a_copy_that_does_not_fit_leaves_nothing(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    char left[400];
    record(f, 1);
    pid_t child = fork();
    if (child == 0) {
        struct rlimit size = {.rlim_cur = 50000, .rlim_max = 50000};
        signal(SIGXFSZ, SIG_IGN);
        setrlimit(RLIMIT_FSIZE, &size);
        enum thrum_status status = thrum_flac_copy(f->wav, f->flac, sizeof f->flac, &message);
        _exit(status == THRUM_OK || f->flac[0] || !strstr(message.text, "the WAV stays"));
    }
    int status = 0;
    waitpid(child, &status, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    snprintf(left, sizeof left, "%s/take.flac", f->folder);
    assert_false(exists(left));
    snprintf(left, sizeof left, "%s.flac-unfinished", f->wav);
    assert_false(exists(left));
    assert_true(exists(f->wav));
}

static void what_cannot_be_copied_has_words(void **state)
{
    struct fixture *f = *state;
    struct thrum_message message;
    record(f, 9);
    assert_int_equal(thrum_flac_copy(f->wav, f->flac, sizeof f->flac, &message), THRUM_ERR_FORMAT);
    assert_non_null(strstr(message.text, "up to 8 channels"));
    assert_string_equal(f->flac, "");
    assert_int_equal(thrum_flac_copy("/nowhere/x.wav", f->flac, sizeof f->flac, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "/nowhere/x.wav"));
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(a_copy_has_every_sample_and_mark),
        T(a_copy_replaces_nothing),
        T(a_copy_that_does_not_fit_leaves_nothing),
        T(what_cannot_be_copied_has_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
