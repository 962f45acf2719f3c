/* A clock that was never set, or that somebody sets while a round is recorded. */
#define _GNU_SOURCE
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "commands/round_job.h"
#include "sound/recorder.h"
#include "wav_bytes.h"

#define YEAR_S 31556952

/* What the clock on the wall says; 0: the truth. */
static time_t wall_s;

int clock_gettime(clockid_t clock, struct timespec *now)
{
    int result = (int)syscall(SYS_clock_gettime, clock, now);
    if (clock == CLOCK_REALTIME && wall_s > 0)
        *now = (struct timespec){.tv_sec = wall_s};
    return result;
}

static size_t read_nothing(void *context, float *samples, size_t most)
{
    (void)context;
    memset(samples, 0, most * sizeof *samples);
    return most;
}

/* Records three seconds as a round on a device does; what the file says of itself, malloc'ed. */
static char *recorded(struct thrum_message *said)
{
    char folder[200];
    static const float second[48000];
    const struct thrum_source_functions functions = {.read = read_nothing};
    const struct thrum_source_info info = {.name = "card", .rate_hz = 48000.0, .channels = 1, .live = true};
    struct intake_config from = {.from = "device:"};
    struct round_job *job = calloc(1, sizeof *job);
    struct thrum_recorder *recorder;
    struct thrum_source *source;
    struct thrum_message message;
    char path[400];
    wb_folder_make(folder, sizeof folder);
    job->record = folder;
    assert_int_equal(thrum_source_from_functions(&functions, NULL, &info, &from.source), THRUM_OK);
    assert_int_equal(intake_open(&from, &job->intake, &message), CODE_DONE);
    assert_int_equal(round_open_recorder(job, &recorder, said), CODE_DONE);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(thrum_recorder_write(recorder, second, 48000, &message), THRUM_OK);
        wall_s -= wall_s > 2 * YEAR_S ? 7200 : 0; /* two hours back, each second */
    }
    snprintf(path, sizeof path, "%s", thrum_recorder_path(recorder));
    assert_int_equal(thrum_recorder_close(recorder, &message), THRUM_OK);
    assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
    assert_int_equal(thrum_source_info(source)->frames, 144000);
    char *about = strdup(thrum_source_about(source));
    thrum_source_close(source);
    intake_close(job->intake);
    free(job);
    wb_folder_remove(folder);
    return about;
}

static void a_clock_that_was_never_set_is_warned_of_and_not_believed(void **state)
{
    (void)state;
    struct thrum_message said;
    wall_s = 100; /* 1970 */
    char *about = recorded(&said);
    assert_non_null(strstr(said.text, "the clock was never set"));
    assert_null(strstr(about, "\"start\""));
    free(about);
}

static void a_clock_that_is_set_back_meanwhile_moves_nothing(void **state)
{
    (void)state;
    struct thrum_message said;
    wall_s = 1780000000; /* 2026-05-28T20:26:40Z, by GNU date */
    char *about = recorded(&said);
    assert_string_equal(said.text, "");
    assert_non_null(strstr(about, "\"start\":\"2026-05-28T20:26:40.000Z\""));
    free(about);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clock_that_was_never_set_is_warned_of_and_not_believed),
        cmocka_unit_test(a_clock_that_is_set_back_meanwhile_moves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
