/* A long round on a device while the computer is busy and the disk stalls: what is not told as lost is in the recording.
 *
 * Against the stand-in for PortAudio, on a virtual clock. Each sample tells its frame of the card, so that every frame of the
 * recording can be asked where it belongs. THRUM_HOUR=3600 makes it an hour; ten minutes without it. */
#define _GNU_SOURCE
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "check.h"
#include "commands/command.h"
#include "commands/intake.h"
#include "commands/session.h"
#include "portaudio_standin.h"
#include "signals.h"
#include "sound/device_source.h"
#include "thrum/practice.h"
#include "wav_bytes.h"

#define RATE    48000.0
#define BLOCK   2400
#define SLACK   960.0 /* frames: a block of the card, and a poll on either side of a hole */
#define LATEST  2.5   /* s after a hole, by which it is told */
#define STEP_NS 3000000u

/* ---- what disturbs ---------------------------------------------------------------------------- */

static struct disturbed {
    struct thrum_source *source; /* of the round; NULL while nothing is to be disturbed */
    double stall_s;              /* of the next write */
    int stalls, busy;
    double longest_s;
} the;

/* The disk takes nothing for a while; the capture, which has a thread of its own, goes on. */
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    struct sound_host host = standin_host();
    double until_s = the.source ? standin_now_s() + the.stall_s : 0.0;
    the.stalls += the.stall_s > 0.0 ? 1 : 0;
    the.longest_s = fmax(the.longest_s, the.stall_s);
    the.stall_s = 0.0;
    while (the.source && standin_now_s() < until_s) {
        device_source_step(the.source);
        host.sleep_ns(NULL, STEP_NS);
    }
    return syscall(SYS_pwrite64, fd, data, size, at);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at)
{
    return pwrite64(fd, data, size, at);
}

/* Nothing of the program runs for a while: longer than the card holds sound is a loss. */
static void be_busy(double seconds)
{
    standin_host().sleep_ns(NULL, (uint64_t)(seconds * 1e9));
    the.busy++;
}

/* Every few seconds something, one in ten of it bad. */
static void disturb(struct rng *rng)
{
    double what = rng_uniform(rng), how = rng_uniform(rng);
    if (what < 0.45)
        be_busy(0.01 + 0.3 * how); /* the card holds half a second: nothing is lost */
    else if (what < 0.5)
        be_busy(0.6 + 3.0 * how);
    else if (what < 0.95)
        the.stall_s = 0.05 + 5.0 * how;
    else if (what < 0.98)
        the.stall_s = 20.0 + 8.0 * how; /* the ring holds thirty */
    else
        the.stall_s = 32.0 + 10.0 * how;
}

/* ---- the recording, asked frame by frame ------------------------------------------------------ */

struct asked {
    uint64_t frames, zeros; /* of the card, and in place of lost ones */
    uint64_t holes;         /* places at which the next frame is not the next of the card */
    double worst_slip;      /* frames by which the recording is off the card, but for LATEST after a hole */
    uint64_t mended;        /* recording's frame until which a hole may be untold */
    double slip;
    uint64_t card; /* the next frame of the card */
};

static void ask_frame(struct asked *a, int sample, uint64_t at)
{
    uint64_t wraps = 8000000;
    uint64_t low = (uint64_t)(sample / 256 + 4000000);
    uint64_t card = a->card - a->card % wraps + low;
    card += card < a->card ? wraps : 0;
    if (card != a->card) {
        a->holes++;
        a->mended = at + (uint64_t)(LATEST * RATE);
    }
    a->card = card + 1;
    a->slip = (double)card - (double)at;
    if (at > a->mended)
        a->worst_slip = fmax(a->worst_slip, fabs(a->slip));
    a->frames++;
}

static bool is_noted(const struct thrum_mark *note, size_t n, uint64_t at)
{
    static size_t i; /* the recording is gone through in order */
    i = at == 0 ? 0 : i;
    while (i < n && note[i].end <= at)
        i++;
    return i < n && at >= note[i].first;
}

static void ask_file(const char *path, struct asked *a)
{
    static struct thrum_mark mark[THRUM_RECORDER_MARKS];
    static int samples[65536];
    struct thrum_source *source;
    struct thrum_message message;
    SF_INFO info = {.format = 0};
    unsigned long long first = 0;
    sf_count_t n;
    assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
    size_t n_marks = thrum_source_marks(source, mark, THRUM_RECORDER_MARKS);
    assert_int_equal(
        sscanf(strstr(thrum_source_about(source), "\"first_frame\":"), "\"first_frame\":%llu", &first), 1);
    thrum_source_close(source);
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    for (uint64_t in_file = 0; (n = sf_readf_int(file, samples, 65536)) > 0;) {
        for (sf_count_t i = 0; i < n; i++, in_file++) {
            if (is_noted(mark, n_marks, in_file)) {
                assert_int_equal(samples[i], 0);
                a->zeros++;
            } else {
                ask_frame(a, samples[i], first + in_file);
            }
        }
    }
    sf_close(file);
}

/* ---- the round -------------------------------------------------------------------------------- */

static struct session *open_round(const char *folder, struct intake **intake)
{
    static struct thrum_voice voice;
    struct thrum_message message;
    struct session *session;
    struct intake_config heard = {.from = "device:"};
    struct thrum_recorder_config recorder = {
        .folder = folder, .stem = "r", .rate_hz = RATE, .channels = 1, .about = "{}"};
    struct session_config config = {.voices = &voice, .n_voices = 1, .block = BLOCK};
    struct sound_host host = standin_host();
    voice = thrum_practice_config_default(1).voice;
    standin_begin("device a;channels 1;holds 24000");
    assert_int_equal(device_source_open(&host, NULL, &heard.source, &message), THRUM_OK);
    the = (struct disturbed){.source = heard.source};
    assert_int_equal(intake_open(&heard, intake, &message), CODE_DONE);
    config.intake = *intake;
    assert_int_equal(thrum_recorder_create(&recorder, &config.recorder, &message), THRUM_OK);
    assert_int_equal(session_create(&config, &session, &message), CODE_DONE);
    return session;
}

static void nothing_is_lost_that_is_not_told(void **state)
{
    (void)state;
    const char *hour = getenv("THRUM_HOUR");
    double seconds = hour ? strtod(hour, NULL) : 600.0, next_s = 2.0;
    char folder[200];
    struct thrum_message message;
    struct intake *intake;
    struct rng rng = rng_seeded(5001);
    wb_folder_make(folder, sizeof folder);
    struct session *session = open_round(folder, &intake);
    while (standin_now_s() < seconds) {
        assert_true(session_step(session, &message) != SESSION_ENDED);
        if (standin_now_s() > next_s) {
            disturb(&rng);
            next_s = standin_now_s() + 8.0 * rng_uniform(&rng);
        }
    }
    /* what is still on the ring, and quiet long enough for the last hole to be told */
    for (double until_s = standin_now_s() + 5.0; standin_now_s() < until_s;)
        session_step(session, &message);
    the.source = NULL;
    double clock_frames = standin_now_s() * RATE;
    uint64_t frames = session_frames(session), lost = session_lost(session);
    assert_int_equal(session_finish(session, &message), CODE_DONE);
    struct asked a = {0};
    for (int i = 0; i < session_parts(session); i++)
        ask_file(session_part(session, i), &a);
    print_message(
        "%.0f s, %d stalls up to %.1f s, %d times busy: %llu holes, %llu frames lost and told, %llu "
        "kept; worst slip %.0f frames\n",
        seconds, the.stalls, the.longest_s, the.busy, (unsigned long long)a.holes, (unsigned long long)lost,
        (unsigned long long)a.frames, a.worst_slip);
    assert_int_equal(a.frames, frames - lost); /* every frame that was read is there */
    assert_true(a.holes > 0 && the.stalls > 3 && the.busy > 3);
    assert_close((double)frames, clock_frames, 2.0 * SLACK); /* and those not read were told */
    assert_true(a.worst_slip <= SLACK);
    session_destroy(session);
    intake_close(intake);
    standin_end();
    wb_folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_lost_that_is_not_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
