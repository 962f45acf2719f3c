#include "no_memory.h"

#include <malloc.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static int left = -1, calls;

void no_memory_after(int n)
{
    left = n;
    calls = 0;
}

int no_memory_calls(void)
{
    return calls;
}

size_t no_memory_in_use(void)
{
    return mallinfo2().uordblks + mallinfo2().hblkhd;
}

void *calloc(size_t n, size_t size)
{
    calls++;
    if (left == 0 || (size > 0 && n > SIZE_MAX / size))
        return NULL;
    left -= left > 0;
    void *block = malloc(n * size);
    if (block) {
        volatile char *first = block; /* or a compiler makes this function call itself */
        if (n * size > 0)
            *first = 0;
        memset(block, 0, n * size);
    }
    return block;
}
