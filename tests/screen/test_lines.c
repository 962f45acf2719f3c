/* The screen's words as lines: the same information as the picture. */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "drawn.h"

static void the_line_says_what_the_picture_says(void **state)
{
    struct drawn *picture = *state;
    char line[1024];
    for (int i = 0; i < n_drawn_said; i++) {
        drawn_make(picture, drawn_said[i].scene, false);
        thrum_screen_line(&picture->snapshot, &picture->facts, line, sizeof line);
        if (!strstr(line, drawn_said[i].full))
            fail_msg("the line for %s is \"%s\"", scene_text(drawn_said[i].scene), line);
    }
}

/* Field by field: what the largest picture draws from a snapshot and the facts is in the lines, too. The values are such that no
 * other field has them. */
static void set_every_field(struct drawn *picture, bool touching)
{
    drawn_make(picture, SCENE_TWO_SENDERS, false);
    struct thrum_snapshot *snapshot = &picture->snapshot;
    struct thrum_screen_facts *facts = &picture->facts;
    snprintf(facts->input, sizeof facts->input, "Input A");
    snprintf(facts->message, sizeof facts->message, "message B");
    facts->live = false;
    facts->practice = true;
    facts->length_s = 754.0;                             /* 12:34 */
    facts->recorded_s = 1425.0;                          /* 23:45 */
    facts->lost_frames = 129600;                         /* 2.7 s */
    snapshot->now.frames = (uint64_t)(48000.0 * 2096.0); /* 34:56 */
    snapshot->now.faults = THRUM_FAULT_DRIFT;
    snapshot->now.hum_dbfs = -11.7;
    snapshot->now.mains_hz = 61.23;
    snapshot->now.hum_removed_db = 37.0;
    snapshot->now.best_dbfs[0] = -13.9;
    snapshot->now.steady_dbfs[0] = snapshot->now.bar_dbfs[0] = -57.3;
    snapshot->touching = touching;
    snapshot->so_far.strength[0] =
        (struct thrum_strength){.heard = true, .dbfs = -58.1, .low_db = -59.7, .high_db = -56.6};
    snapshot->hold_s = 6.5;
    snprintf(snapshot->current, sizeof snapshot->current, "7");
    snprintf(snapshot->readings[0].wire, sizeof snapshot->readings[0].wire, "7"); /* with its own: twice */
    snprintf(snapshot->sender[1].name, sizeof snapshot->sender[1].name, "other-c");
    struct thrum_pick *pick = &snapshot->pick[0];
    pick->notes = THRUM_NOTE_SAGGING;
    pick->chance = 0.9913;
    pick->lead_db = 4.7;
    pick->rank[1].dbfs = -41.4;
    pick->rank[1].low_db = -42.8;
    pick->rank[1].high_db = -40.9;
    pick->rank[1].chance = 0.0061;
    pick->rank[1].touches = 5;
    pick->rank[2].heard = false;
    pick->rank[2].high_db = -86.2;
    snapshot->excluded[pick->rank[3].wire] = true;
}

static void the_lines_say_every_field_of_the_picture(void **state)
{
    struct drawn *picture = *state;
    static const char *const both[] = {
        "Input A", "message B",     "PRACTICE", "12:34",           "34:56",
        "23:45",   "lost 2.7 s",    "drift",    "-11.7",           "61.23",
        "37 dB",   "-13.9",         "wire 7",   "touched 2 times", "the sender's beeps",
        "other-c", "99.1 %",        "4.7 dB",   "-41.4",           "-42.8",
        "-40.9",   "0.6 %",         "5x",       "not heard",       "-86.2",
        "not it",  "5 not touched", "Hum HIGH", "; unplug charger"};
    static char lines[8192];
    for (int touching = 0; touching < 2; touching++) {
        const char *const moment[] = {touching ? "-58.1" : "-57.3", touching ? "-59.7 to -56.6" : "-57.3",
                                      touching ? "7 s" : "-57.3"};
        set_every_field(picture, touching);
        drawn_compose(picture, 60, 200);
        size_t n = thrum_screen_input_line(&picture->snapshot, &picture->facts, lines, sizeof lines);
        n += thrum_screen_line(&picture->snapshot, &picture->facts, lines + n, sizeof lines - n);
        for (int s = 0; s < 2; s++)
            n += thrum_screen_ranking_line(&picture->snapshot, &picture->facts, s, lines + n,
                                           sizeof lines - n);
        for (size_t i = 0; i < sizeof both / sizeof both[0]; i++) {
            if (!drawn_says(picture, both[i]) &&
                !(strcmp(both[i], "wire 7") == 0 && drawn_says(picture, "Wire 7")))
                fail_msg("the picture does not say \"%s\":\n%s", both[i], picture->text);
            if (!strstr(lines, both[i]))
                fail_msg("the lines do not say \"%s\": %s", both[i], lines);
        }
        for (size_t i = 0; i < 3; i++) {
            assert_true(drawn_says(picture, moment[i]));
            assert_non_null(strstr(lines, moment[i]));
        }
        assert_true(drawn_says_all(picture, thrum_pick_note_text(THRUM_NOTE_SAGGING)));
        assert_non_null(strstr(lines, thrum_pick_note_text(THRUM_NOTE_SAGGING)));
        assert_non_null(strstr(lines, "9 more touched")); /* 19 touched, 10 named */
    }
}

static void the_line_is_cut_where_it_must_be(void **state)
{
    struct drawn *picture = *state;
    char line[600], whole[600];
    drawn_make(picture, SCENE_CLOSE, false);
    snprintf(picture->snapshot.current, sizeof picture->snapshot.current, "größer\x1b\xff");
    size_t length = thrum_screen_line(&picture->snapshot, &picture->facts, whole, sizeof whole);
    assert_int_equal(length, strlen(whole));
    assert_non_null(strstr(whole, "größer??"));
    for (size_t size = 0; size <= length + 1; size++) {
        memset(line, 'Z', sizeof line);
        size_t n = thrum_screen_line(&picture->snapshot, &picture->facts, line, size);
        assert_true(size == 0 ? n == 0 : n < size);
        assert_int_equal(line[size], 'Z');
        if (size > 0) {
            assert_int_equal(line[n], 0);
            assert_memory_equal(line, whole, n);
            assert_true(((unsigned char)whole[n] & 0xC0) != 0x80);
        }
    }
}

#define ON_PICTURE(test) cmocka_unit_test_setup_teardown(test, drawn_set_up, drawn_tear_down)

/* A charger's hum is told with what to do, the bundle's own without. */
static void high_hum_asks_for_the_charger(void **state)
{
    struct drawn *picture = *state;
    char line[1024];
    for (int high = 0; high < 2; high++) {
        picture->snapshot.now.mains_hz = 50.0;
        picture->snapshot.now.hum_dbfs = high ? -12.0 : -22.0;
        picture->snapshot.now.hum_removed_db = 33.0;
        thrum_screen_line(&picture->snapshot, &picture->facts, line, sizeof line);
        assert_true(!!strstr(line, "Hum HIGH: -12.0 dBFS, 50.00 Hz, 33 dB out; unplug charger") == high);
        assert_true(!!strstr(line, "Hum -22.0 dBFS at 50.00 Hz, 33 dB taken out") == !high);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        ON_PICTURE(the_line_says_what_the_picture_says),
        ON_PICTURE(the_lines_say_every_field_of_the_picture),
        ON_PICTURE(the_line_is_cut_where_it_must_be),
        ON_PICTURE(high_hum_asks_for_the_charger),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
