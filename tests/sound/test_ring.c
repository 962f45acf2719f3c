/* The ring between the capture thread and the reader. */
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "signals.h"
#include "sound/ring.h"

static void what_goes_in_comes_out_in_order(void **state)
{
    (void)state;
    struct ring *ring = ring_create(sizeof(int), 5);
    int in[8] = {1, 2, 3, 4, 5, 6, 7, 8};
    int out[8] = {0};
    assert_non_null(ring);
    assert_int_equal(ring_capacity(ring), 8);
    for (int round = 0; round < 100; round++) { /* past the end of the store, many times */
        assert_int_equal(ring_write(ring, in, 5), 5);
        assert_int_equal(ring_readable(ring), 5);
        assert_int_equal(ring_writable(ring), 3);
        assert_int_equal(ring_read(ring, out, 8), 5);
        assert_memory_equal(in, out, 5 * sizeof(int));
    }
    ring_destroy(ring);
}

static void a_full_ring_takes_what_fits_and_says_so(void **state)
{
    (void)state;
    struct ring *ring = ring_create(2 * sizeof(float), 4);
    float in[12] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11};
    float out[12] = {0};
    assert_int_equal(ring_write(ring, in, 6), 4);
    assert_int_equal(ring_write(ring, in, 1), 0);
    assert_int_equal(ring_read(ring, out, 6), 4);
    assert_memory_equal(in, out, 8 * sizeof(float));
    ring_destroy(ring);
}

static void peeking_leaves_the_element_there(void **state)
{
    (void)state;
    struct ring *ring = ring_create(sizeof(int), 2);
    int seven = 7;
    int seen = 0;
    assert_int_equal(ring_peek(ring, &seen), 0);
    assert_int_equal(ring_write(ring, &seven, 1), 1);
    assert_int_equal(ring_peek(ring, &seen), 1);
    assert_int_equal(seen, 7);
    assert_int_equal(ring_readable(ring), 1);
    ring_destroy(ring);
}

static void impossible_sizes_are_refused(void **state)
{
    (void)state;
    assert_null(ring_create(0, 10));
    assert_null(ring_create(4, 0));
    assert_null(ring_create(4, SIZE_MAX));
    assert_null(ring_create(SIZE_MAX / 2, 1000));
    ring_destroy(NULL);
}

/* Two threads, random sizes, a counted sequence: built with the thread sanitizer this is the proof of the ring. */
#define NUMBERS 3000000u

static void *writer(void *own)
{
    struct ring *ring = own;
    struct rng rng = rng_seeded(1);
    uint32_t block[700];
    uint32_t next = 0;
    while (next < NUMBERS) {
        size_t n = 1 + (size_t)(rng_uniform(&rng) * 699.0);
        n = n < NUMBERS - next ? n : NUMBERS - next;
        for (size_t i = 0; i < n; i++)
            block[i] = next + (uint32_t)i;
        next += (uint32_t)ring_write(ring, block, n);
    }
    return NULL;
}

static void two_threads_lose_and_double_nothing(void **state)
{
    (void)state;
    struct ring *ring = ring_create(sizeof(uint32_t), 1000);
    struct rng rng = rng_seeded(2);
    pthread_t thread;
    uint32_t block[900];
    uint32_t next = 0;
    uint32_t wrong = 0;
    assert_int_equal(pthread_create(&thread, NULL, writer, ring), 0);
    while (next < NUMBERS) {
        size_t got = ring_read(ring, block, 1 + (size_t)(rng_uniform(&rng) * 899.0));
        for (size_t i = 0; i < got; i++) {
            wrong += block[i] != next ? 1 : 0;
            next++;
        }
    }
    pthread_join(thread, NULL);
    assert_int_equal(wrong, 0);
    assert_int_equal(ring_readable(ring), 0);
    ring_destroy(ring);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_goes_in_comes_out_in_order),
        cmocka_unit_test(a_full_ring_takes_what_fits_and_says_so),
        cmocka_unit_test(peeking_leaves_the_element_there),
        cmocka_unit_test(impossible_sizes_are_refused),
        cmocka_unit_test(two_threads_lose_and_double_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
