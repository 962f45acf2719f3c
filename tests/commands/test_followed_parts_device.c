/* A sender that has moved is followed in the second part of a recorded round: touches of the first part that heard nothing are
 * measured anew, by the round and by thrum rank on its files afterwards, to the same figures. Against the stand-in for PortAudio, on
 * a virtual clock. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/command.h"
#include "commands/round_job.h"
#include "live_round.h"
#include "portaudio_standin.h"
#include "walks.h"
#include "wav_bytes.h"

#define LEARNED_HZ 1037.0
#define MOVED_HZ   1089.0

/* Four wires; between the second and the third long enough in the air for the input to be away. */
static struct walk make_walk(void)
{
    struct thrum_practice_config config = thrum_practice_config_default(5);
    config.n_wires = 4;
    config.touch_s = 3.0;
    config.lift_s = 8.0;
    config.ending = THRUM_ENDING_LOADED;
    config.voice = thrum_voice_beep(MOVED_HZ, 0.25, 0.25);
    return walk_made(&config);
}

static void open_session(struct live_round *f, struct round_job *job)
{
    struct thrum_message message;
    *job = (struct round_job){.record = f->folder, .intake = f->intake, .n_voices = 1};
    job->voices[0] = thrum_voice_beep(LEARNED_HZ, 0.25, 0.25);
    struct session_config config = {.intake = f->intake,
                                    .voices = job->voices,
                                    .n_voices = 1,
                                    .hands_free = true,
                                    .watch_moved = true,
                                    .describe = round_describe,
                                    .job = job,
                                    .block = LIVE_BLOCK};
    assert_int_equal(round_open_recorder(job, &config.recorder, &message), CODE_DONE);
    assert_int_equal(session_create(&config, &f->session, &message), CODE_DONE);
}

/* The walk, and once more from a frame on. */
static float *walk_twice(const struct walk *walk, size_t again, size_t *n)
{
    *n = again + walk->n;
    float *x = calloc(*n, sizeof *x);
    assert_non_null(x);
    memcpy(x, walk->x, sizeof *x * walk->n);
    memcpy(x + again, walk->x, sizeof *x * walk->n);
    return x;
}

/* The input goes after the second touch and comes back; then the sender is followed, and the walk goes on or is made anew. */
static void play_and_follow(struct live_round *f, const struct walk *walk, struct round_job *job,
                            double away_s, double then_s)
{
    char script[200];
    struct live_log log = {0};
    struct thrum_message message;
    size_t n, again = walk->n + (size_t)(away_s * LIVE_RATE);
    double gone_s = (double)walk->touch[1].end / LIVE_RATE + 1.0;
    float *x = walk_twice(walk, again, &n);
    snprintf(script, sizeof script, "device a;channels 1;error_after %.0f -9999;return_after %.1f",
             gone_s * LIVE_RATE, gone_s + away_s);
    live_open_intake(f, script);
    standin_feed(x, n);
    open_session(f, job);
    live_run_for(f, gone_s, &log);
    assert_true(session_moved(f->session)[0]);
    live_run_for(f, away_s + then_s, &log);
    assert_int_equal(log.back, 1);
    assert_int_equal(session_follow(f->session), THRUM_OK);
    live_run_for(f, (double)n / LIVE_RATE - gone_s - away_s - then_s + 1.0, &log);
    assert_int_equal(session_finish(f->session, &message), CODE_DONE);
    assert_int_equal(session_parts(f->session), 2);
    free(x);
}

/* What the program says of both files; to be let go. */
static json_t *ranked(const struct live_round *f)
{
    char command[1400];
    snprintf(command, sizeof command, "\"%s\" rank --json '%s' '%s' 2>/dev/null", getenv("THRUM"),
             session_part(f->session, 0), session_part(f->session, 1));
    FILE *out = popen(command, "r");
    assert_non_null(out);
    json_t *answer = json_loadf(out, 0, NULL);
    pclose(out);
    assert_non_null(answer);
    return answer;
}

static void check_readings(const struct thrum_snapshot *live, const json_t *answer, int unheard)
{
    const json_t *readings = json_object_get(answer, "readings");
    assert_int_equal(json_array_size(readings), live->n_readings);
    for (int i = 0; i < live->n_readings; i++) {
        bool heard = i >= unheard;
        const json_t *reading = json_array_get(readings, (size_t)i);
        const json_t *strength = json_array_get(json_object_get(reading, "strength"), 0);
        assert_string_equal(json_string_value(json_object_get(reading, "wire")), live->readings[i].wire);
        const json_t *faults = json_object_get(reading, "faults");
        assert_int_equal(live->readings[i].strength[0].heard, heard);
        assert_int_equal(json_is_true(json_object_get(strength, "heard")), heard);
        if (heard)
            assert_close(json_number_value(json_object_get(strength, "dbfs")),
                         live->readings[i].strength[0].dbfs, 0.01);
        assert_int_equal(live->readings[i].faults, heard ? THRUM_FAULT_DRIFT : THRUM_FAULT_NOT_COMPARED);
        assert_int_equal(json_array_size(faults), 1);
        assert_string_equal(json_string_value(json_array_get(faults, 0)), heard ? "drift" : "not-compared");
    }
}

/* The input is away for so long after the second touch, and so long after its return the sender is followed; so many of the first
 * touches stay unheard. */
static void compare(struct live_round *f, double away_s, double then_s, int n_touches, int unheard)
{
    struct walk walk = make_walk();
    struct round_job job;
    play_and_follow(f, &walk, &job, away_s, then_s);
    struct thrum_snapshot *live = malloc(sizeof *live);
    assert_non_null(live);
    thrum_round_snapshot(session_round(f->session), live);
    assert_int_equal(live->n_readings, n_touches);
    json_t *answer = ranked(f);
    check_readings(live, answer, unheard);
    json_decref(answer);
    free(live);
    live_end(f);
    walk_free(&walk);
}

static void touches_of_the_part_before_are_measured_anew(void **state)
{
    compare(*state, 3.0, 3.0, 8, 0);
}

/* A long time away is no time of the round. */
static void a_long_time_away_is_a_short_one(void **state)
{
    compare(*state, 70.0, 3.0, 6, 0);
}

static void touches_of_over_a_minute_ago_are_not_compared(void **state)
{
    compare(*state, 70.0, 62.0, 6, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(touches_of_the_part_before_are_measured_anew, live_set_up,
                                        wb_fixture_remove),
        cmocka_unit_test_setup_teardown(a_long_time_away_is_a_short_one, live_set_up, wb_fixture_remove),
        cmocka_unit_test_setup_teardown(touches_of_over_a_minute_ago_are_not_compared, live_set_up,
                                        wb_fixture_remove),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
