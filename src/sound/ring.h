/* A lock-free queue of fixed-size elements for exactly one writing and one reading thread.
 *
 *   written - read = elements inside; both only grow (64 bits), the place in the store is the count masked.
 *   The writer owns `written`, the reader owns `read`; each publishes with release and looks with acquire.
 */
#ifndef THRUM_SOUND_RING_H
#define THRUM_SOUND_RING_H

#include <stddef.h>

struct ring;

/* Room for at least min_elements (rounded up to a power of two) of element_bytes each. NULL: no memory, or 0, or more
 * than the address space can hold. All memory is taken here. */
struct ring *ring_create(size_t element_bytes, size_t min_elements);

/* Neither thread may be using it any more. NULL is allowed. */
void ring_destroy(struct ring *ring);

size_t ring_capacity(const struct ring *ring);

/* Writer: puts in up to n elements; returns how many there was room for. */
size_t ring_write(struct ring *ring, const void *elements, size_t n);

/* Writer: elements there is room for now. */
size_t ring_writable(const struct ring *ring);

/* Reader: elements that can be read now. */
size_t ring_readable(const struct ring *ring);

/* Reader: takes out up to n elements; returns how many there were. */
size_t ring_read(struct ring *ring, void *elements, size_t n);

/* Reader: takes out all there are. */
void ring_drop(struct ring *ring);

/* Reader: copies the oldest element without taking it; 0 when there is none. */
int ring_peek(const struct ring *ring, void *element);

#endif
