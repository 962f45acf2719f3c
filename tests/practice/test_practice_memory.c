/* Memory that runs out at every allocation in turn. The two files that allocate are compiled in here with an
   allocator that can be told to fail. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"

static struct {
    int until_failure; /* allocations that still succeed */
    int held;          /* blocks not yet freed */
} memory;

static void *some(void *block)
{
    memory.held += block != NULL;
    return block;
}

static void *failing_calloc(size_t n, size_t size)
{
    return memory.until_failure-- > 0 ? some((calloc)(n, size)) : NULL;
}

static void *failing_malloc(size_t size)
{
    return memory.until_failure-- > 0 ? some((malloc)(size)) : NULL;
}

static void counted_free(void *block)
{
    memory.held -= block != NULL;
    (free)(block);
}

#undef calloc
#undef malloc
#undef free
#define calloc(n, size) failing_calloc(n, size)
#define malloc(size)    failing_malloc(size)
#define free(block)     counted_free(block)
#include "practice/coupling.c"
#include "practice/practice.c"

static void creation_survives_every_allocation_that_fails(void **state)
{
    (void)state;
    struct thrum_practice_config config = thrum_practice_config_default(1);
    int n = 0;
    for (;; n++) {
        struct thrum_practice *practice = (struct thrum_practice *)(uintptr_t)1;
        memory.until_failure = n;
        enum thrum_status status = thrum_practice_create(&config, &practice);
        if (status == THRUM_OK) {
            thrum_practice_destroy(practice);
            assert_int_equal(memory.held, 0);
            break;
        }
        assert_int_equal(status, THRUM_ERR_MEM);
        assert_null(practice);
        assert_int_equal(memory.held, 0);
    }
    assert_int_equal(n, 3); /* the bundle itself, its capacitances, the solver's scratch */
}

static void nothing_is_allocated_after_creation(void **state)
{
    (void)state;
    struct thrum_practice_config config = thrum_practice_config_default(1);
    struct thrum_practice *practice;
    static float x[4096];
    memory.until_failure = 1000;
    assert_int_equal(thrum_practice_create(&config, &practice), THRUM_OK);
    int left = memory.until_failure;
    for (int i = 0; i < 20; i++) {
        thrum_practice_place(practice, i - 2);
        thrum_practice_read(practice, x, 4096);
    }
    assert_int_equal(memory.until_failure, left);
    thrum_practice_destroy(practice);
    assert_int_equal(memory.held, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(creation_survives_every_allocation_that_fails),
        cmocka_unit_test(nothing_is_allocated_after_creation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
