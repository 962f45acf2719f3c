/* Counts of frames beyond 2^31 and 2^32: half a day and a day of sound at 48000 frames a second. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "scenes.h"
#include "sound/frame_clock.h"
#include "sound/recorder.h"
#include "sound/source.h"
#include "wav_bytes.h"
/* The ring itself, so that its counters can be set: nobody waits for them to come so far. */
#include "../../src/sound/ring.c"

#define RATE 48000.0

static const uint64_t edges[] = {(uint64_t)1 << 31, (uint64_t)1 << 32, (uint64_t)1 << 33, UINT64_MAX - 4};
#define N_EDGES (sizeof edges / sizeof edges[0])

static void the_ring_goes_on_past_every_edge(void **state)
{
    (void)state;
    for (size_t e = 0; e < N_EDGES; e++) {
        struct ring *ring = ring_create(sizeof(uint64_t), 8);
        assert_non_null(ring);
        atomic_store(&ring->written, edges[e] - 3);
        atomic_store(&ring->read, edges[e] - 3);
        uint64_t next_in = 0, next_out = 0;
        for (int round = 0; round < 50; round++) {
            uint64_t in[5], out[8];
            for (int i = 0; i < 5; i++)
                in[i] = next_in++;
            assert_int_equal(ring_write(ring, in, 5), 5);
            assert_int_equal(ring_readable(ring), 5);
            assert_int_equal(ring_writable(ring), 3);
            assert_int_equal(ring_read(ring, out, 8), 5);
            for (int i = 0; i < 5; i++)
                assert_int_equal(out[i], next_out++);
        }
        ring_destroy(ring);
    }
}

/* 480 frames every 10 ms, for a day and an hour; then 4800 are missing, with a flag. */
static void the_frame_clock_finds_no_loss_in_a_day_and_a_real_one_after_it(void **state)
{
    struct frame_clock clock;
    uint64_t start_ns = 1000000000u, known = 0, i = 0;
    (void)state;
    frame_clock_start(&clock, RATE, start_ns);
    for (; i * 480 < ((uint64_t)1 << 32) + 48000 * 60; i++)
        known += frame_clock_look(&clock, start_ns + i * 10000000u, i * 480 + known, false);
    assert_int_equal(known, 0);
    for (uint64_t k = 0; k < 500; k++, i++)
        known += frame_clock_look(&clock, start_ns + i * 10000000u, i * 480 - 4800 + known, k == 0);
    assert_true(known > 4800 - 480 && known < 4800 + 480);
}

static void the_screen_counts_hours_past_every_edge(void **state)
{
    /* 2^31 / 48000 = 44739.24 s, 2^32 / 48000 = 89478.49 s, 2^33 / 48000 = 178956.97 s */
    static const struct {
        uint64_t frames;
        const char *time;
    } times[] = {{((uint64_t)1 << 31) - 48000, "12:25:38 "},
                 {((uint64_t)1 << 31) + 48000, "12:25:40 "},
                 {((uint64_t)1 << 32) + 48000, "24:51:19 "},
                 {((uint64_t)1 << 33) + 48000, "49:42:37 "}};
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    struct thrum_screen_facts *facts = malloc(sizeof *facts);
    char line[1200];
    (void)state;
    assert_true(snapshot && facts);
    for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        scene_make(SCENE_START, snapshot, facts);
        snapshot->now.frames = times[i].frames;
        facts->recorded_s = (double)times[i].frames / RATE;
        thrum_screen_line(snapshot, facts, line, sizeof line);
        assert_int_equal(strncmp(line, times[i].time, strlen(times[i].time)), 0);
        assert_non_null(strstr(line, "recording "));
        assert_int_equal(strncmp(strstr(line, "recording ") + 10, times[i].time, strlen(times[i].time) - 1),
                         0);
    }
    free(snapshot);
    free(facts);
}

/* Marks before and after the edge, in a recording that has a gap up to it. */
static void the_recorder_keeps_its_place_past_every_edge(void **state)
{
    char folder[200];
    (void)state;
    for (size_t e = 0; e < 3; e++) {
        static const float sound[4800];
        struct thrum_message message;
        struct thrum_recorder *r;
        wb_folder_make(folder, sizeof folder);
        struct thrum_recorder_config config = {
            .folder = folder, .stem = "long", .rate_hz = RATE, .channels = 1, .about = "{\"zone\":7}"};
        assert_int_equal(thrum_recorder_create(&config, &r, &message), THRUM_OK);
        assert_int_equal(thrum_recorder_write(r, sound, 4800, &message), THRUM_OK);
        assert_int_equal(thrum_recorder_lost(r, edges[e] - 4800 - 1000, &message), THRUM_OK);
        assert_int_equal(thrum_recorder_write(r, sound, 4800, &message), THRUM_OK);
        assert_int_equal(thrum_recorder_position(r), edges[e] + 3800);
        assert_int_equal(thrum_recorder_frames(r), 9600);
        struct thrum_mark mark = {.first = edges[e] - 500, .end = edges[e] + 500, .label = "w07"};
        assert_int_equal(thrum_recorder_mark(r, &mark), THRUM_OK);
        assert_int_equal(thrum_recorder_parts(r), 2);
        char path[1024];
        snprintf(path, sizeof path, "%s", thrum_recorder_part(r, 1));
        assert_int_equal(thrum_recorder_close(r, &message), THRUM_OK);
        struct thrum_source *source;
        struct thrum_mark kept[4];
        assert_int_equal(thrum_source_open_file(path, &source, &message), THRUM_OK);
        assert_int_equal(thrum_source_marks(source, kept, 4), 1);
        assert_string_equal(kept[0].label, "w07");
        assert_int_equal(kept[0].first, 500); /* of this file: it begins 1000 before the edge */
        assert_int_equal(kept[0].end, 1500);
        assert_non_null(strstr(thrum_source_about(source), "\"first_frame\":"));
        char first[64];
        snprintf(first, sizeof first, "\"first_frame\":%llu", (unsigned long long)(edges[e] - 1000));
        assert_non_null(strstr(thrum_source_about(source), first));
        thrum_source_close(source);
        wb_folder_remove(folder);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_ring_goes_on_past_every_edge),
        cmocka_unit_test(the_frame_clock_finds_no_loss_in_a_day_and_a_real_one_after_it),
        cmocka_unit_test(the_screen_counts_hours_past_every_edge),
        cmocka_unit_test(the_recorder_keeps_its_place_past_every_edge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
