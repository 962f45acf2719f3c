/* The past is there, whole, and the same whatever blocks it came in. Every sample is its own number here. */
#include "check.h"

#include <stdlib.h>

#include "listen/history.h"

static void add(struct thrum_history *history, uint64_t *next, size_t n)
{
    float *to = thrum_history_room(history, n);
    for (size_t i = 0; i < n; i++)
        to[i] = (float)(*next)++;
    thrum_history_added(history, n);
}

static void the_kept_past_is_there_whatever_the_blocks(void **state)
{
    (void)state;
    const size_t blocks[] = {1, 7, 64, 250};
    for (int b = 0; b < 4; b++) {
        struct thrum_history history;
        uint64_t next = 0;
        assert_int_equal(thrum_history_create(1000, &history), THRUM_OK);
        while (next < 10000) {
            add(&history, &next, blocks[b]);
            uint64_t first = next > 1000 ? next - 1000 : 0, asked = first;
            const float *x = thrum_history_part(&history, &asked);
            assert_true(asked == first && thrum_history_end(&history) == next);
            assert_true(x[0] == (float)first && x[next - 1 - first] == (float)(next - 1));
        }
        thrum_history_destroy(&history);
    }
}

/* What lies in the buffer by chance is not given out: the answer depends on the stated keep alone. */
static void what_is_older_than_kept_is_never_given(void **state)
{
    (void)state;
    struct thrum_history history;
    uint64_t next = 0;
    assert_int_equal(thrum_history_create(1000, &history), THRUM_OK);
    for (int i = 0; i < 110; i++)
        add(&history, &next, 10);
    uint64_t first = 0;
    const float *x = thrum_history_part(&history, &first);
    assert_int_equal(first, 100);
    assert_true(x[0] == 100.0f);
    thrum_history_destroy(&history);
}

static void a_first_sample_within_the_past_stays(void **state)
{
    (void)state;
    struct thrum_history history;
    uint64_t next = 0, first = 5;
    assert_int_equal(thrum_history_create(100, &history), THRUM_OK);
    add(&history, &next, 25);
    const float *x = thrum_history_part(&history, &first);
    assert_int_equal(first, 5);
    assert_true(x[0] == 5.0f && x[19] == 24.0f);
    thrum_history_destroy(&history);
}

static void destroying_twice_is_allowed(void **state)
{
    (void)state;
    struct thrum_history history;
    assert_int_equal(thrum_history_create(10, &history), THRUM_OK);
    thrum_history_destroy(&history);
    assert_null(history.samples);
    thrum_history_destroy(&history);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_kept_past_is_there_whatever_the_blocks),
        cmocka_unit_test(what_is_older_than_kept_is_never_given),
        cmocka_unit_test(a_first_sample_within_the_past_stays),
        cmocka_unit_test(destroying_twice_is_allowed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
