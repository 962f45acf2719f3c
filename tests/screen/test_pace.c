/* How fast a slow line is drawn to; time is given, so nothing waits. */
#include "check.h"
#include "screen/pace.h"

static void a_fast_line_is_drawn_to_at_any_time(void **state)
{
    (void)state;
    struct pace pace = {0};
    for (int i = 0; i < 100; i++) {
        assert_true(pace_allows(&pace, 5.0));
        pace_drew(&pace, 5.0, 100000);
    }
}

/* Asked 20 times a second for a minute, pictures of many sizes. */
static void a_slow_line_is_never_more_than_a_picture_behind(void **state)
{
    (void)state;
    struct pace pace = {.bytes_s = 1500.0};
    double carried = 0.0, sent = 0.0, largest = 4000.0;
    int pictures = 0;
    for (int i = 0; i < 1200; i++) {
        double now_s = 1000.0 + 0.05 * i;
        size_t bytes = (size_t)(50 + i * 997 % 3951);
        if (pace_allows(&pace, now_s)) {
            pace_drew(&pace, now_s, bytes);
            sent += (double)bytes;
            pictures++;
        }
        carried = 1500.0 * 0.05 * (i + 1);
        assert_true(sent - carried <= largest);
    }
    assert_true(sent > 0.9 * carried); /* and what it carries is used */
    assert_true(pictures > 20);
}

static void a_picture_without_changes_costs_nothing(void **state)
{
    (void)state;
    struct pace pace = {.bytes_s = 1500.0};
    pace_drew(&pace, 7.0, 0);
    assert_true(pace_allows(&pace, 7.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fast_line_is_drawn_to_at_any_time),
        cmocka_unit_test(a_slow_line_is_never_more_than_a_picture_behind),
        cmocka_unit_test(a_picture_without_changes_costs_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
