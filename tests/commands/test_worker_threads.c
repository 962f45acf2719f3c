/* A round in its own thread when something holds it up. */
#define _GNU_SOURCE
#include <sndfile.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "commands/worker.h"
#include "thrum/practice.h"
#include "wav_bytes.h"

#define RATE   48000.0
#define FRAMES 480000

/* A disk that takes nothing while it is told not to. */
static _Atomic bool disk_stalls;
static _Atomic int stalled_writes;

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    struct timespec a_while = {.tv_nsec = 2000000};
    if (atomic_load(&disk_stalls))
        atomic_fetch_add(&stalled_writes, 1);
    while (atomic_load(&disk_stalls))
        nanosleep(&a_while, NULL);
    return syscall(SYS_pwrite64, fd, data, size, at);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at)
{
    return pwrite64(fd, data, size, at);
}

/* Ten seconds, each sample its number; the disk stalls when half of it has been read. */
static size_t read_numbers(void *context, float *samples, size_t most)
{
    uint64_t *at = context;
    size_t n = FRAMES - *at < most ? (size_t)(FRAMES - *at) : most;
    for (size_t i = 0; i < n; i++)
        samples[i] = (float)((int)(*at + i) - 240000) / 8388608.0f;
    if (*at < FRAMES / 2 && *at + n >= FRAMES / 2)
        atomic_store(&disk_stalls, true);
    *at += n;
    return n;
}

static void a_disk_that_stalls_is_shown_and_nothing_is_lost(void **state)
{
    (void)state;
    char folder[200];
    char path[300];
    uint64_t at = 0;
    struct thrum_message message;
    struct intake *intake;
    struct session *session;
    struct thrum_voice voice = thrum_practice_config_default(1).voice;
    const struct thrum_source_functions functions = {.read = read_numbers};
    const struct thrum_source_info info = {.name = "numbers", .rate_hz = RATE, .channels = 1};
    struct intake_config heard = {.from = "-"};
    struct session_config config = {.voices = &voice, .n_voices = 1, .block = 2400};
    struct worker_view *view = calloc(1, sizeof *view);
    assert_non_null(view);
    wb_folder_make(folder, sizeof folder);
    assert_int_equal(thrum_source_from_functions(&functions, &at, &info, &heard.source), THRUM_OK);
    assert_int_equal(intake_open(&heard, &intake, &message), CODE_DONE);
    struct thrum_recorder_config recorder = {.folder = folder, .stem = "r", .rate_hz = RATE, .channels = 1};
    assert_int_equal(thrum_recorder_create(&recorder, &config.recorder, &message), THRUM_OK);
    config.intake = intake;
    assert_int_equal(session_create(&config, &session, &message), CODE_DONE);
    struct worker *worker = worker_start(session, false);
    assert_non_null(worker);
    /* However long that takes: the disk goes on only when it has been shown. */
    do {
        worker_look(worker, view, 0.05);
        assert_false(view->ended);
    } while (!view->stuck);
    assert_non_null(strstr(view->message.text, "THE DISK DOES NOT TAKE THE RECORDING"));
    assert_int_equal(atomic_load(&stalled_writes), 1);
    atomic_store(&disk_stalls, false);
    while (!view->ended)
        worker_look(worker, view, 0.05);
    assert_false(view->stuck);
    assert_int_equal(view->code, CODE_DONE);
    assert_int_equal(view->lost, 0);
    assert_true(worker_join(worker, 60.0));
    snprintf(path, sizeof path, "%s", session_recording(session));
    session_destroy(session);
    intake_close(intake);
    free(view);
    SF_INFO format = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &format);
    assert_non_null(file);
    assert_int_equal(format.frames, FRAMES);
    for (int i = 0; i < FRAMES; i++) {
        int sample;
        assert_int_equal(sf_readf_int(file, &sample, 1), 1);
        assert_int_equal(sample / 256, i - 240000);
    }
    sf_close(file);
    wb_folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_disk_that_stalls_is_shown_and_nothing_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
