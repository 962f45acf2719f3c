/* A bell that is heard once, however often it rang, and never makes the one who rings wait. */
#include "check.h"

#include <poll.h>

#include "sound/bell.h"

static bool rings(const struct bell *bell)
{
    struct pollfd fd = {.fd = bell_fd(bell), .events = POLLIN};
    return poll(&fd, 1, 0) == 1;
}

static void it_is_heard_until_it_is_hushed(void **state)
{
    (void)state;
    struct bell bell;
    assert_true(bell_make(&bell));
    assert_false(rings(&bell));
    bell_ring(&bell);
    bell_ring(&bell);
    assert_true(rings(&bell));
    bell_hush(&bell);
    assert_false(rings(&bell));
    bell_ring(&bell);
    assert_true(rings(&bell));
    bell_free(&bell);
}

/* A pipe holds some 64 kB; nobody listens. */
static void ringing_never_waits(void **state)
{
    (void)state;
    struct bell bell;
    assert_true(bell_make(&bell));
    for (int i = 0; i < 200000; i++)
        bell_ring(&bell);
    assert_true(rings(&bell));
    bell_hush(&bell);
    assert_false(rings(&bell));
    bell_free(&bell);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_heard_until_it_is_hushed),
        cmocka_unit_test(ringing_never_waits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
