/* Memory that runs out: calloc, which is all that the pure parts allocate with, fails when told to. For one .c file of a
 * test program to include: it replaces calloc in that whole program. */
#ifndef THRUM_TEST_NO_MEMORY_H
#define THRUM_TEST_NO_MEMORY_H

#include <malloc.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static int no_memory_left = -1, no_memory_count;

/* The next n calls succeed, all later ones fail; a negative n: none fails. */
static inline void no_memory_after(int n)
{
    no_memory_left = n;
    no_memory_count = 0;
}

/* Calls since no_memory_after(). */
static inline int no_memory_calls(void)
{
    return no_memory_count;
}

/* Bytes in use, as the C library counts them; 0 where it does not (under a sanitizer, which looks for leaks itself). */
static inline size_t no_memory_in_use(void)
{
    return mallinfo2().uordblks + mallinfo2().hblkhd;
}

void *calloc(size_t n, size_t size)
{
    no_memory_count++;
    if (no_memory_left == 0 || (size > 0 && n > SIZE_MAX / size))
        return NULL;
    no_memory_left -= no_memory_left > 0;
    char *block = malloc(n * size);
    volatile char *first = block; /* or a compiler makes this function call itself */
    if (block && n * size > 0) {
        *first = 0;
        memset(block, 0, n * size);
    }
    return block;
}

#endif
