/* A recording whose program is killed (SIGKILL) at any moment: in the middle of a write, between two parts, while the marks
 * are put in. The moments are system calls, drawn by a seed, so that every run of this test kills at the same ones.
 *
 * THRUM_KILLS=200 kills that often; 60 times without it.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <signal.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "signals.h"
#include "sound/recorder.h"
#include "sound/recorder_own.h"
#include "wav_bytes.h"

#define RATE        8000.0
#define BLOCK       997
#define PART_BLOCKS 20
#define BLOCKS      70
#define GAP_AT      30 /* after so many blocks the input is away... */
#define GAP         24000
#define MARKS       40
#define FILES       8

/* What the child says it has done; shared with the parent, so that it outlives the kill. */
struct said {
    volatile uint64_t position;    /* frames given and taken, gaps counted */
    volatile uint64_t mark[MARKS]; /* where marks begin that were made... */
    volatile int n_marks;
    volatile int doing; /* ...one is being made or taken back: it may be there or not */
    volatile bool closed;
    volatile long calls; /* that write, so far */
};

static struct {
    struct said *said;
    long kill_at; /* call number; 0: never */
    int how;      /* 0 before it, 1 in the middle of it, 2 after it */
    bool armed;
} the;

/* ---- system calls, counted -------------------------------------------------------------------- */

/* How many bytes are to be written before the end comes; all of them when it does not. */
static size_t before_call(size_t size)
{
    if (!the.armed || ++the.said->calls != the.kill_at || the.how == 2)
        return size;
    if (the.how == 0)
        kill(getpid(), SIGKILL);
    return size / 2;
}

static void after_call(void)
{
    if (the.armed && the.said->calls == the.kill_at)
        kill(getpid(), SIGKILL);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    ssize_t put = syscall(SYS_pwrite64, fd, data, before_call(size), at);
    after_call();
    return put;
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at)
{
    return pwrite64(fd, data, size, at);
}

ssize_t write(int fd, const void *data, size_t size)
{
    ssize_t put = syscall(SYS_write, fd, data, before_call(size));
    after_call();
    return put;
}

int ftruncate64(int fd, off64_t size)
{
    before_call(0);
    int result = (int)syscall(SYS_ftruncate, fd, size);
    after_call();
    return result;
}

int ftruncate(int fd, off_t size)
{
    return ftruncate64(fd, size);
}

int unlink(const char *path)
{
    before_call(0);
    int result = (int)syscall(SYS_unlinkat, -100 /* AT_FDCWD */, path, 0);
    after_call();
    return result;
}

int fsync(int fd)
{
    (void)fd; /* a killed program loses nothing that the system has; and the disk has rest */
    before_call(0);
    after_call();
    return 0;
}

int fdatasync(int fd)
{
    (void)fd;
    return 0; /* in a thread of its own */
}

/* ---- the recording ---------------------------------------------------------------------------- */

/* A value that tells its frame: n / 2^23, exact in 24 bits. */
static int number(uint64_t frame)
{
    return (int)(frame % 8000000) - 4000000;
}

static void write_block(struct thrum_recorder *r)
{
    float block[BLOCK];
    struct thrum_message message;
    for (size_t i = 0; i < BLOCK; i++)
        block[i] = (float)number(the.said->position + i) / 8388608.0f;
    if (thrum_recorder_write(r, block, BLOCK, &message) != THRUM_OK)
        _exit(1);
    the.said->position += BLOCK;
}

static void make_mark(struct thrum_recorder *r)
{
    struct said *said = the.said;
    struct thrum_mark mark = {.first = said->position - BLOCK + 100, .end = said->position - BLOCK + 600};
    snprintf(mark.label, sizeof mark.label, "w%02d", said->n_marks);
    said->doing = 1;
    said->mark[said->n_marks] = mark.first;
    if (thrum_recorder_mark(r, &mark) != THRUM_OK)
        _exit(2);
    said->n_marks++;
    said->doing = 0;
}

static void take_back_mark(struct thrum_recorder *r)
{
    char label[16];
    snprintf(label, sizeof label, "w%02d", the.said->n_marks - 1);
    the.said->doing = 1;
    the.said->n_marks--;
    if (thrum_recorder_unmark(r, label) != THRUM_OK)
        _exit(3);
    the.said->doing = 0;
}

/* In a child. Exit status 0 when it was not killed. */
static void record(const char *folder)
{
    struct thrum_recorder *r = NULL;
    struct thrum_message message;
    struct recorder_limits limits = recorder_limits_default();
    struct thrum_recorder_config config = {
        .folder = folder, .stem = "k", .rate_hz = RATE, .channels = 1, .about = "{}"};
    limits.part_bytes = (uint64_t)PART_BLOCKS * BLOCK * 3;
    the.armed = true;
    if (recorder_create_limited(&config, &limits, &r, &message) != THRUM_OK)
        _exit(4);
    for (int i = 1; i <= BLOCKS; i++) {
        write_block(r);
        if (i % 3 == 0)
            make_mark(r);
        if (i % 15 == 0)
            take_back_mark(r);
        if (i == GAP_AT) {
            if (thrum_recorder_lost(r, GAP, &message) != THRUM_OK)
                _exit(5);
            the.said->position += GAP;
        }
    }
    if (thrum_recorder_close(r, &message) != THRUM_OK)
        _exit(6);
    the.said->closed = true;
    _exit(0);
}

/* ---- what is left ----------------------------------------------------------------------------- */

static void path_of(const char *folder, int part, char *path, size_t size)
{
    if (part == 1)
        snprintf(path, size, "%s/k.wav", folder);
    else
        snprintf(path, size, "%s/k-part%d.wav", folder, part);
}

/* Every sample must be the one that belongs there. Returns how many there are for someone who trusts the header. */
static uint64_t frames_by_header(const char *path, uint64_t first)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    int block[4096];
    uint64_t frames = 0;
    sf_count_t got;
    if (!file)
        return 0;
    while ((got = sf_readf_int(file, block, 4096)) > 0)
        for (sf_count_t i = 0; i < got; i++, frames++)
            assert_int_equal(block[i] / 256, number(first + frames));
    sf_close(file);
    return frames;
}

struct left {
    uint64_t by_header, by_us; /* frames */
    uint64_t end;              /* one past the last frame's number */
    uint64_t mark[2 * MARKS];
    char label[2 * MARKS][8];
    int n_marks;
};

static void look_at_part(const char *path, struct left *left)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    struct thrum_mark mark[2 * MARKS];
    struct thrum_source_block block;
    float samples[4096];
    unsigned long long first = 0;
    if (thrum_source_open_file(path, &source, &message) != THRUM_OK) {
        assert_non_null(strstr(message.text, "sound")); /* nothing in it yet, and said so */
        return;
    }
    const char *place = strstr(thrum_source_about(source), "\"first_frame\":");
    assert_non_null(place);
    assert_int_equal(sscanf(place, "\"first_frame\":%llu", &first), 1);
    uint64_t at = first;
    do {
        thrum_source_read(source, samples, 4096, &block);
        for (size_t i = 0; i < block.frames; i++, at++)
            assert_close((double)samples[i] * 8388608.0, number(at), 0.0);
    } while (block.event == THRUM_SOURCE_DATA);
    left->by_us += at - first;
    left->end = at;
    left->by_header += frames_by_header(path, first);
    size_t n = thrum_source_marks(source, mark, 2 * MARKS);
    for (size_t i = 0; i < n; i++) {
        assert_true(left->n_marks < 2 * MARKS);
        assert_int_equal(mark[i].end - mark[i].first, 500);
        left->mark[left->n_marks] = first + mark[i].first;
        snprintf(left->label[left->n_marks++], sizeof left->label[0], "%.7s", mark[i].label);
    }
    thrum_source_close(source);
}

static bool is_left(const struct left *left, uint64_t first, int number_of)
{
    char label[8];
    snprintf(label, sizeof label, "w%02d", number_of % 100);
    for (int i = 0; i < left->n_marks; i++)
        if (left->mark[i] == first && strcmp(left->label[i], label) == 0)
            return true;
    return false;
}

static void check_what_is_left(const char *folder, const struct said *said)
{
    static struct left left;
    char path[400];
    memset(&left, 0, sizeof left);
    for (int part = 1; part <= FILES; part++) {
        path_of(folder, part, path, sizeof path);
        struct stat about;
        if (stat(path, &about) == 0)
            look_at_part(path, &left);
    }
    uint64_t gap = said->position > (uint64_t)GAP_AT * BLOCK ? GAP : 0;
    uint64_t given = said->position - gap;
    assert_true(left.by_us >= given); /* nothing that was taken is lost */
    assert_true(left.by_us <= given + BLOCK);
    assert_true(given == 0 || left.end >= said->position || left.by_us == given);
    assert_true((double)left.by_header + RATE >= (double)given); /* to others, at most a second */
    /* every mark that was made, and no other; the one in hand may be there or not */
    for (int i = 0; i < said->n_marks; i++)
        assert_true(is_left(&left, said->mark[i], i));
    assert_between(left.n_marks, said->n_marks, said->n_marks + (said->doing ? 1 : 0));
    if (left.n_marks > said->n_marks)
        assert_true(is_left(&left, said->mark[said->n_marks], said->n_marks));
}

/* ---- killing ---------------------------------------------------------------------------------- */

static struct said *shared(void)
{
    void *page = mmap(NULL, sizeof(struct said), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_true(page != MAP_FAILED);
    return page;
}

/* Records once, killed at that call; true when it was. */
static bool record_and_kill(const char *folder, long at, int how)
{
    int status = 0;
    memset(the.said, 0, sizeof *the.said);
    the.kill_at = at;
    the.how = how;
    pid_t child = fork();
    if (child == 0)
        record(folder);
    assert_true(child > 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    if (WIFSIGNALED(status)) {
        assert_int_equal(WTERMSIG(status), SIGKILL);
        return true;
    }
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_true(the.said->closed);
    return false;
}

static void whenever_it_is_killed_sound_and_marks_are_there(void **state)
{
    (void)state;
    const char *wanted = getenv("THRUM_KILLS");
    long kills = wanted ? strtol(wanted, NULL, 10) : 60;
    char folder[200];
    struct rng rng = rng_seeded(20);
    the.said = shared();
    wb_folder_make(folder, sizeof folder);
    assert_false(record_and_kill(folder, 0, 0));
    check_what_is_left(folder, the.said);
    wb_folder_remove(folder);
    long calls = the.said->calls;
    assert_true(calls > 3 * BLOCKS / 2);
    for (long i = 0; i < kills; i++) {
        /* one in four at the end, where marks are put in */
        long most = calls - 1, low = i % 4 == 0 ? most * 3 / 4 : 0;
        long at = 1 + low + (long)(rng_uniform(&rng) * (double)(most - low));
        int how = (int)(rng_uniform(&rng) * 3.0);
        wb_folder_make(folder, sizeof folder);
        assert_true(record_and_kill(folder, at, how));
        check_what_is_left(folder, the.said);
        wb_folder_remove(folder);
    }
    print_message("%ld kills at calls drawn from %ld\n", kills, calls);
    munmap(the.said, sizeof *the.said);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whenever_it_is_killed_sound_and_marks_are_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
