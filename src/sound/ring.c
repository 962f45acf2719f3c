#include "sound/ring.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/room.h"

#define CACHE_LINE 64

struct ring {
    size_t element_bytes;
    size_t capacity;
    unsigned char *store;
    /* apart, so that the two threads do not fight over a cache line */
    _Alignas(CACHE_LINE) _Atomic uint64_t written;
    _Alignas(CACHE_LINE) _Atomic uint64_t read;
};

struct ring *ring_create(size_t element_bytes, size_t min_elements)
{
    size_t capacity = 1;
    while (capacity < min_elements && capacity <= SIZE_MAX / 4)
        capacity *= 2;
    if (element_bytes == 0 || min_elements == 0 || capacity < min_elements ||
        capacity > SIZE_MAX / 2 / element_bytes)
        return NULL;
    struct ring *ring = aligned_alloc(CACHE_LINE, sizeof *ring);
    if (!ring)
        return NULL;
    ring->element_bytes = element_bytes;
    ring->capacity = capacity;
    atomic_init(&ring->written, 0);
    atomic_init(&ring->read, 0);
    ring->store = thrum_room(capacity * element_bytes);
    if (!ring->store) {
        ring_destroy(ring);
        return NULL;
    }
    return ring;
}

void ring_destroy(struct ring *ring)
{
    if (ring) {
        free(ring->store);
        free(ring);
    }
}

size_t ring_capacity(const struct ring *ring)
{
    return ring->capacity;
}

size_t ring_write(struct ring *ring, const void *elements, size_t n)
{
    uint64_t written = atomic_load_explicit(&ring->written, memory_order_relaxed);
    uint64_t read = atomic_load_explicit(&ring->read, memory_order_acquire);
    size_t room = ring->capacity - (size_t)(written - read);
    size_t bytes = ring->element_bytes;
    n = n < room ? n : room;
    size_t at = (size_t)(written & (ring->capacity - 1));
    size_t before_end = ring->capacity - at;
    size_t first = n < before_end ? n : before_end;
    if (n > 0) {
        memcpy(ring->store + at * bytes, elements, first * bytes);
        memcpy(ring->store, (const unsigned char *)elements + first * bytes, (n - first) * bytes);
    }
    atomic_store_explicit(&ring->written, written + n, memory_order_release);
    return n;
}

size_t ring_writable(const struct ring *ring)
{
    uint64_t written = atomic_load_explicit(&ring->written, memory_order_relaxed);
    return ring->capacity - (size_t)(written - atomic_load_explicit(&ring->read, memory_order_acquire));
}

size_t ring_readable(const struct ring *ring)
{
    uint64_t read = atomic_load_explicit(&ring->read, memory_order_relaxed);
    return (size_t)(atomic_load_explicit(&ring->written, memory_order_acquire) - read);
}

static void copy_out(const struct ring *ring, uint64_t read, void *elements, size_t n)
{
    size_t bytes = ring->element_bytes;
    size_t at = (size_t)(read & (ring->capacity - 1));
    size_t before_end = ring->capacity - at;
    size_t first = n < before_end ? n : before_end;
    memcpy(elements, ring->store + at * bytes, first * bytes);
    memcpy((unsigned char *)elements + first * bytes, ring->store, (n - first) * bytes);
}

size_t ring_read(struct ring *ring, void *elements, size_t n)
{
    uint64_t read = atomic_load_explicit(&ring->read, memory_order_relaxed);
    size_t there = ring_readable(ring);
    n = n < there ? n : there;
    if (n > 0)
        copy_out(ring, read, elements, n);
    atomic_store_explicit(&ring->read, read + n, memory_order_release);
    return n;
}

void ring_drop(struct ring *ring)
{
    atomic_store_explicit(&ring->read, atomic_load_explicit(&ring->written, memory_order_acquire),
                          memory_order_release);
}

int ring_peek(const struct ring *ring, void *element)
{
    if (ring_readable(ring) == 0)
        return 0;
    copy_out(ring, atomic_load_explicit(&ring->read, memory_order_relaxed), element, 1);
    return 1;
}
