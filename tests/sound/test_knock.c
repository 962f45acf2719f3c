/* A knock is heard once, however often it came, before the wait or within it; a wait without one ends by itself. */
#include "check.h"

#include <pthread.h>
#include <stdatomic.h>

#include "sound/knock.h"

#define LONG_NS UINT64_C(600000000000) /* a wait that were to last so long would be seen */

static void knocks_before_the_wait_end_one_wait(void **state)
{
    (void)state;
    struct knock knock;
    assert_true(knock_make(&knock));
    knock_once(&knock);
    knock_once(&knock);
    knock_wait(&knock, LONG_NS);
    assert_false(knock.knocked);
    knock_wait(&knock, 1);
    assert_false(knock.knocked);
    knock_free(&knock);
}

struct pair {
    struct knock there, back;
    _Atomic int heard;
};

static void *answer(void *own)
{
    struct pair *pair = own;
    for (int i = 0; i < 2000; i++) {
        knock_wait(&pair->there, LONG_NS);
        atomic_fetch_add(&pair->heard, 1);
        knock_once(&pair->back);
    }
    return NULL;
}

/* Each waits for the other 2000 times: one that were lost would leave both waiting. */
static void none_is_lost_between_two_threads(void **state)
{
    (void)state;
    struct pair pair = {.heard = 0};
    pthread_t thread;
    assert_true(knock_make(&pair.there) && knock_make(&pair.back));
    assert_int_equal(pthread_create(&thread, NULL, answer, &pair), 0);
    for (int i = 0; i < 2000; i++) {
        knock_once(&pair.there);
        knock_wait(&pair.back, LONG_NS);
        assert_int_equal(atomic_load(&pair.heard), i + 1);
    }
    pthread_join(thread, NULL);
    knock_free(&pair.there);
    knock_free(&pair.back);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knocks_before_the_wait_end_one_wait),
        cmocka_unit_test(none_is_lost_between_two_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
