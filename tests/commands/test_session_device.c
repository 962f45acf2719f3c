/* A round on a device that fails: what is shown, what is recorded, what becomes of the round. Against the stand-in for
 * PortAudio, on a virtual clock: nothing here waits. */
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
#include "walks.h"
#include "wav_bytes.h"

/* ---- during the round ------------------------------------------------------------------------- */

/* Four wires, three seconds each, and the probe long enough in the air between them for a fault to fit in. The walk begins
 * and ends in the air. */
static struct walk make_walk(void)
{
    struct thrum_practice_config config = thrum_practice_config_default(5);
    config.n_wires = 4;
    config.touch_s = 3.0;
    config.lift_s = 7.0;
    config.ending = THRUM_ENDING_LOADED;
    return walk_made(&config);
}

/* The middle of the air between two touches, in frames. */
static uint64_t air_after(const struct walk *walk, int touch)
{
    return (walk->touch[touch].end + walk->touch[touch + 1].first) / 2;
}

static void begin_round(struct live_round *f, const char *script, const struct walk *walk)
{
    live_open_intake(f, script);
    standin_feed(walk->x, walk->n);
    live_open_session(f, &walk->voice, true);
}

/* The whole walk and a second more. */
static void play_round(struct live_round *f, const char *script, const struct walk *walk,
                       struct live_log *log)
{
    begin_round(f, script, walk);
    live_run_for(f, (double)walk->n / LIVE_RATE + 1.0, log);
}

static void end_round(struct live_round *f, struct walk *walk)
{
    live_end(f);
    walk_free(walk);
}

/* The round takes the touches where they were, whatever happened between them. */
static void check_readings(struct live_round *f, const struct walk *walk)
{
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_int_equal(seen->n_readings, 4);
    int strongest = 0;
    for (int i = 0; i < 4; i++) {
        const struct thrum_reading *reading = &seen->readings[i];
        char tag[8];
        snprintf(tag, sizeof tag, "%d", i + 1);
        assert_string_equal(reading->wire, tag);
        assert_close((double)reading->first_frame / LIVE_RATE, (double)walk->touch[i].first / LIVE_RATE, 0.4);
        assert_close((double)reading->frames / LIVE_RATE, 3.0, 0.6);
        if (reading->strength[0].dbfs > seen->readings[strongest].strength[0].dbfs)
            strongest = i;
    }
    assert_int_equal(strongest, walk->driven);
    assert_close(seen->readings[strongest].strength[0].dbfs, walk->dbfs[strongest], 4.0); /* placement */
    assert_int_equal(seen->pick[0].outcome, THRUM_PICKED);
    free(seen);
}

/* Each file has the sound of the walk at the place it claims, but for zeros where a note says that frames were lost; the
 * marks in it lie where the touches were. Returns the frames of all files. */
static uint64_t check_recording(const struct live_round *f, const struct walk *walk, int parts, uint64_t slip)
{
    struct thrum_message message;
    uint64_t total = 0;
    int touches = 0;
    for (int part = 1; part <= parts; part++) {
        char path[400];
        struct thrum_source *source;
        struct thrum_mark mark[16];
        unsigned long long first = 0;
        size_t n;
        snprintf(path, sizeof path, part == 1 ? "%s/r.wav" : "%s/r-part%d.wav", f->folder, part);
        assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
        const char *place = strstr(thrum_source_about(source), "\"first_frame\":");
        assert_int_equal(sscanf(place, "\"first_frame\":%llu", &first), 1);
        size_t n_marks = thrum_source_marks(source, mark, 16);
        for (size_t i = 0; i < n_marks; i++) {
            if (mark[i].label[0] != '~') {
                assert_int_equal(strtol(mark[i].label, NULL, 10), ++touches);
                assert_close((double)(first + mark[i].first) / LIVE_RATE,
                             (double)walk->touch[touches - 1].first / LIVE_RATE, 0.4);
            }
        }
        thrum_source_close(source);
        int *got = live_read_all(path, &n);
        /* what was told to be lost is within its error of what was lost: find where this part lies */
        uint64_t at = first > slip ? first - slip : 0;
        while (part > 1 && at < first + slip && memcmp(&got[2000], &got[2000], 4) == 0 &&
               !(got[2000] == live_in_24_bits(walk->x[at + 2000]) &&
                 got[2001] == live_in_24_bits(walk->x[at + 2001]) &&
                 got[2002] == live_in_24_bits(walk->x[at + 2002])))
            at++;
        size_t wrong = 0;
        for (size_t i = 0; i < n; i++)
            wrong += at + i < walk->n && got[i] != live_in_24_bits(walk->x[at + i]) ? 1 : 0;
        assert_int_equal(wrong, 0);
        free(got);
        total += n;
    }
    assert_int_equal(touches, 4);
    return total;
}

static bool has_part(const struct live_round *f, int part)
{
    char path[400];
    struct stat about;
    snprintf(path, sizeof path, "%s/r-part%d.wav", f->folder, part);
    return stat(path, &about) == 0;
}

/* These frames were recorded as the walk has them. */
static void check_frames(const int *got, const struct walk *walk, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        assert_int_equal(got[i], live_in_24_bits(walk->x[i]));
}

/* The recording as another program sees it right now: its header is at most a second old. */
static void check_valid_now(const struct live_round *f)
{
    size_t n;
    free(live_read_all(f->path, &n));
    assert_true((double)n + LIVE_RATE >= (double)session_recorded(f->session));
}

/* The input goes away between the second and the third wire and is back before that one is touched. */
static void the_round_goes_on_where_it_was(void **state)
{
    struct live_round *f = *state;
    static const struct {
        const char *what, *script; /* %llu: the frame */
    } faults[] = {
        {"it stops without an error", "device a;channels 1;quiet_after %llu"},
        {"the sound server is started again", "device a;channels 1;error_after %llu -9999;return_after %.1f"},
        {"it is plugged in again at another place", "device HDMI;channels 1;device USB Audio;channels "
                                                    "1;default 1;quiet_after %llu;return_after %.1f;relist;"
                                                    "device USB Audio;channels 1;device HDMI;channels 1"},
    };
    struct walk walk = make_walk();
    uint64_t gone = air_after(&walk, 1) - 96000;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char script[400];
        struct live_log log = {0};
        struct thrum_message message;
        double gone_s = (double)gone / LIVE_RATE;
        snprintf(script, sizeof script, faults[i].script, (unsigned long long)gone, gone_s + 2.5);
        begin_round(f, script, &walk);
        double began_s = standin_now_s();
        live_run_for(f, gone_s + 1.1, &log);
        assert_int_equal(log.lost, 1);
        assert_between(log.lost_s - began_s, gone_s, gone_s + 1.0);
        check_valid_now(f);
        double recorded = (double)session_recorded(f->session);
        live_run_for(f, (double)walk.n / LIVE_RATE - gone_s + 1.0, &log);
        assert_int_equal(log.back, 1);
        assert_int_equal(log.lost, 1);
        /* it is shown as lost for as long as it was, and that long nothing is counted as recorded */
        double back_s = (double)session_lost(f->session) / LIVE_RATE;
        assert_between(log.away_s, fmax(back_s - 1.0, 0.0), back_s + 0.1);
        assert_true(i == 0 || recorded / LIVE_RATE <= gone_s); /* the first one is back at once */
        assert_int_equal(session_finish(f->session, &message), CODE_DONE);
        check_readings(f, &walk);
        int parts = has_part(f, 2) ? 2 : 1;
        assert_int_equal(parts, i == 0 ? 1 : 2);
        if (parts == 2) {
            uint64_t total = check_recording(f, &walk, 2, 4800);
            assert_between((double)total, (double)walk.n - 4.5 * LIVE_RATE, (double)walk.n - 1.5 * LIVE_RATE);
        }
        live_end(f);
        wb_folder_remove(f->folder);
        wb_folder_make(f->folder, sizeof f->folder);
    }
    walk_free(&walk);
}

static void lost_frames_are_noted_where_they_were(void **state)
{
    struct live_round *f = *state;
    struct walk walk = make_walk();
    struct live_log log = {0};
    struct thrum_message message;
    struct thrum_source *source;
    struct thrum_mark mark[8];
    char script[100];
    uint64_t at = air_after(&walk, 0);
    snprintf(script, sizeof script, "device a;channels 1;skip %llu 4800", (unsigned long long)at);
    play_round(f, script, &walk, &log);
    assert_int_equal(log.lost, 0);
    assert_between((double)session_lost(f->session), 4800.0 - 624.0, 4800.0 + 624.0);
    uint64_t lost = session_lost(f->session);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    check_readings(f, &walk);
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_int_equal(thrum_source_marks(source, mark, 8), 5);
    assert_int_equal(mark[1].end - mark[1].first, lost);
    assert_close((double)mark[1].first, (double)at, 600.0);
    char note[40];
    snprintf(note, sizeof note, "~lost %llu", (unsigned long long)lost);
    assert_string_equal(mark[1].label, note);
    thrum_source_close(source);
    size_t n;
    int *got = live_read_all(f->path, &n);
    for (uint64_t i = mark[1].first; i < mark[1].end; i++)
        assert_int_equal(got[i], 0);
    check_frames(got, &walk, 0, mark[1].first);
    free(got);
    end_round(f, &walk);
}

/* NaN, infinity and numbers far out of range come from the driver: neither the round nor the recording keeps them. */
static void float_garbage_is_cleaned_at_the_door(void **state)
{
    struct live_round *f = *state;
    struct walk walk = make_walk();
    struct live_log log = {0};
    struct thrum_message message;
    static const float garbage[] = {NAN, INFINITY, -INFINITY, 1e30f, -3.0f};
    uint64_t at = air_after(&walk, 1);
    for (size_t i = 0; i < 500; i++)
        walk.x[at + i] = garbage[i % 5];
    play_round(f, "device a;channels 1", &walk, &log);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    check_readings(f, &walk);
    size_t n;
    int *got = live_read_all(f->path, &n);
    static const int kept[] = {0, 0, 0, 8388607 * 256, -8388608 * 256};
    for (size_t i = 0; i < 500; i++)
        assert_int_equal(got[at + i], kept[i % 5]);
    check_frames(got, &walk, at + 500, walk.n - 48000);
    free(got);
    end_round(f, &walk);
}

/* It says 48000 frames a second and 44100 come: told within a second, kept in the recording, and the round goes on to its
 * pick with all its sound. */
static void a_wrong_rate_is_told_and_the_round_goes_on(void **state)
{
    struct live_round *f = *state;
    struct walk walk = make_walk();
    struct live_log log = {0};
    struct thrum_message message;
    struct thrum_source *source;
    struct thrum_mark mark[8];
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    begin_round(f, "device a;channels 1;ppm -81250", &walk);
    live_run_for(f, 1.05, &log);
    assert_non_null(strstr(log.said.text, "WRONG RATE: the input says 48000"));
    assert_non_null(strstr(log.said.text, "delivers 44100"));
    assert_close(session_came_hz(f->session), 44100.0, 1e-9);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_true(seen->now.faults & THRUM_FAULT_RATE);
    live_run_for(f, (double)walk.n / 44100.0 + 1.0, &log);
    assert_int_equal(session_lost(f->session), 0);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    check_readings(f, &walk);
    thrum_round_snapshot(session_round(f->session), seen);
    for (int i = 0; i < seen->n_readings; i++)
        assert_true(seen->readings[i].faults & THRUM_FAULT_RATE);
    assert_int_equal(check_recording(f, &walk, 1, 0), session_frames(f->session));
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_int_equal(thrum_source_marks(source, mark, 8), 5);
    assert_string_equal(mark[0].label, "~rate 44100");
    assert_true(mark[0].first < 48000 && mark[0].end == 0);
    thrum_source_close(source);
    /* heard again, the recording says so by itself */
    struct intake_config again = {.path = f->path};
    struct intake *intake;
    assert_int_equal(intake_open(&again, &intake, &message), CODE_DONE);
    assert_close(intake_came_hz(intake), 44100.0, 1e-9);
    intake_close(intake);
    free(seen);
    end_round(f, &walk);
}

/* It comes back as something else: the round cannot go on, but keeps what it has, and says why. */
static void another_rate_ends_the_round_with_all_it_has(void **state)
{
    struct live_round *f = *state;
    struct walk walk = make_walk();
    struct live_log log = {0};
    struct thrum_message message;
    char script[200];
    uint64_t gone = air_after(&walk, 1);
    snprintf(script, sizeof script,
             "device a;channels 1;quiet_after %llu;relist;device a;channels 1;rate 44100;only_rate 44100",
             (unsigned long long)gone);
    begin_round(f, script, &walk);
    live_run_for(f, (double)walk.n / LIVE_RATE, &log);
    assert_int_equal(session_step(f->session, &message), SESSION_ENDED);
    assert_int_equal(session_finish(f->session, &message), CODE_DEVICE);
    assert_non_null(strstr(message.text, "44100 Hz"));
    assert_non_null(strstr(message.text, "start a new round"));
    size_t n;
    int *got = live_read_all(f->path, &n);
    assert_close((double)n, (double)gone, 480.0); /* all that it gave, in whole blocks */
    check_frames(got, &walk, 0, n);
    free(got);
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_int_equal(seen->n_readings, 2);
    free(seen);
    end_round(f, &walk);
}

/* The laptop slept ten minutes; the driver gives an error after that. The gap is as long as the sleep. */
static void after_a_sleep_the_gap_has_its_length(void **state)
{
    struct live_round *f = *state;
    struct walk walk = make_walk();
    struct live_log log = {0};
    struct thrum_message message;
    struct sound_host host = standin_host();
    char script[100];
    uint64_t at = air_after(&walk, 3 - 1);
    snprintf(script, sizeof script, "device a;channels 1;error_after %llu -9999", (unsigned long long)at);
    begin_round(f, script, &walk);
    live_run_for(f, (double)at / LIVE_RATE - 0.5, &log);
    host.sleep_ns(NULL, 600000000000u);
    live_run_for(f, 5.0, &log);
    assert_int_equal(log.lost, 1);
    assert_int_equal(log.back, 1);
    assert_close((double)session_frames(f->session) / LIVE_RATE, (double)at / LIVE_RATE - 0.5 + 605.0, 0.6);
    uint64_t touched = session_frames(f->session);
    assert_int_equal(session_act(f->session, THRUM_GO_TO, "w09"), THRUM_OK);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    live_run_for(f, 3.0, &log);
    assert_int_equal(session_act(f->session, THRUM_TAKE, NULL), THRUM_OK);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    struct thrum_source *source;
    unsigned long long first = 0;
    snprintf(f->path, sizeof f->path, "%s/r-part2.wav", f->folder);
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
    assert_int_equal(
        sscanf(strstr(thrum_source_about(source), "\"first_frame\":"), "\"first_frame\":%llu", &first), 1);
    assert_close((double)first / LIVE_RATE, (double)at / LIVE_RATE + 599.5, 1.5);
    struct thrum_mark mark;
    assert_int_equal(thrum_source_marks(source, &mark, 1), 1);
    assert_string_equal(mark.label, "w09"); /* touched after the sleep, and marked by the clock */
    assert_close((double)(first + mark.first), (double)touched, 4800.0);
    thrum_source_close(source);
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    thrum_round_snapshot(session_round(f->session), seen);
    assert_int_equal(seen->n_readings, 4);
    free(seen);
    end_round(f, &walk);
}

#define T(name) cmocka_unit_test_setup_teardown(name, live_set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(the_round_goes_on_where_it_was),
        T(lost_frames_are_noted_where_they_were),
        T(float_garbage_is_cleaned_at_the_door),
        T(a_wrong_rate_is_told_and_the_round_goes_on),
        T(another_rate_ends_the_round_with_all_it_has),
        T(after_a_sleep_the_gap_has_its_length),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
