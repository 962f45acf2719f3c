/* The level in figures stands for a quarter of a second of sound, and no longer than it is true. */
#include <math.h>
#include <stdlib.h>

#include "check.h"
#include "scenes.h"
#include "screen/level_hold.h"

enum { RATE = 48000 };

struct board {
    struct thrum_snapshot snapshot;
    struct thrum_screen_facts facts;
    struct thrum_screen_view view;
    struct level_hold hold;
};

static int set_up(void **state)
{
    struct board *board = calloc(1, sizeof *board);
    assert_non_null(board);
    scene_make(SCENE_TWO_SENDERS, &board->snapshot, &board->facts);
    board->snapshot.rate_hz = RATE;
    board->snapshot.touching = false;
    board->snapshot.so_far.frames = 0;
    *state = board;
    return 0;
}

static int tear_down(void **state)
{
    free(*state);
    return 0;
}

/* What is shown after so many frames when the senders sound at these levels. */
static double shown(struct board *board, uint64_t frames, double first_dbfs, double second_dbfs)
{
    board->snapshot.now.frames = frames;
    board->snapshot.now.steady_dbfs[0] = first_dbfs;
    board->snapshot.now.steady_dbfs[1] = second_dbfs;
    level_hold(&board->hold, &board->view, &board->snapshot, &board->facts);
    assert_true(board->view.level_held);
    return board->view.level_dbfs;
}

static void a_level_stands_for_a_quarter_of_a_second(void **state)
{
    struct board *board = *state;
    assert_close(shown(board, 1000, -40.0, -60.0), -40.0, 0.0);
    assert_close(shown(board, 1000, -41.0, -60.0), -40.0, 0.0);
    assert_close(shown(board, 1000 + RATE / 4 - 1, -42.0, -60.0), -40.0, 0.0);
    assert_close(shown(board, 1000 + RATE / 4, -43.0, -60.0), -43.0, 0.0);
    assert_close(shown(board, 1000 + RATE / 2 - 1, -44.0, -60.0), -43.0, 0.0); /* and anew */
    assert_close(shown(board, 1000 + RATE / 2, -45.0, -60.0), -45.0, 0.0);
}

static void another_sender_is_told_at_once(void **state)
{
    struct board *board = *state;
    assert_close(shown(board, 1000, -40.0, -60.0), -40.0, 0.0);
    board->view.sender = 1;
    assert_close(shown(board, 1001, -40.0, -61.0), -61.0, 0.0);
    assert_close(shown(board, 1002, -40.0, -62.0), -61.0, 0.0);
    board->view.sender = 0;
    assert_close(shown(board, 1003, -47.0, -62.0), -47.0, 0.0);
}

/* A probe that is lifted, and one that touches, are seen without delay. */
static void a_level_that_comes_or_goes_is_told_at_once(void **state)
{
    struct board *board = *state;
    assert_close(shown(board, 1000, -40.0, -60.0), -40.0, 0.0);
    assert_false(shown(board, 1001, -(double)INFINITY, -60.0) > -100.0);
    assert_false(shown(board, 1002, (double)NAN, -60.0) > -100.0);
    assert_close(shown(board, 1003, -50.0, -60.0), -50.0, 0.0);
}

static void a_round_that_begins_anew_is_told_at_once(void **state)
{
    struct board *board = *state;
    assert_close(shown(board, 100000, -40.0, -60.0), -40.0, 0.0);
    assert_close(shown(board, 10, -55.0, -60.0), -55.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_level_stands_for_a_quarter_of_a_second, set_up, tear_down),
        cmocka_unit_test_setup_teardown(another_sender_is_told_at_once, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_level_that_comes_or_goes_is_told_at_once, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_round_that_begins_anew_is_told_at_once, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
