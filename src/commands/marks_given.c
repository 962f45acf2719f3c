#include "commands/marks_given.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static int by_end(const void *a, const void *b)
{
    const struct thrum_mark *x = a, *y = b;
    if (x->end != y->end)
        return x->end < y->end ? -1 : 1;
    return (x->first > y->first) - (x->first < y->first);
}

static void close_points(struct thrum_mark *mark, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        uint64_t end = UINT64_MAX;
        if (mark[i].end > mark[i].first)
            continue;
        for (size_t k = 0; k < n; k++)
            if (mark[k].first > mark[i].first && mark[k].first < end)
                end = mark[k].first;
        mark[i].end = end;
    }
}

struct thrum_mark *marks_given(const struct thrum_mark *marks, size_t n)
{
    struct thrum_mark *copy = n > 0 ? malloc(n * sizeof *copy) : NULL;
    if (!copy)
        return NULL;
    memcpy(copy, marks, n * sizeof *copy);
    close_points(copy, n);
    qsort(copy, n, sizeof *copy, by_end);
    return copy;
}
