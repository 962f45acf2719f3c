#include "round/ahead.h"

#include <string.h>

static void remove_first(struct ahead *ahead)
{
    ahead->n--;
    memmove(ahead->touch, ahead->touch + 1, (size_t)ahead->n * sizeof *ahead->touch);
}

void ahead_add(struct ahead *ahead, struct thrum_span span, int reading)
{
    if (ahead->n == AHEAD_MOST)
        remove_first(ahead);
    ahead->touch[ahead->n].span = span;
    ahead->touch[ahead->n++].reading = reading;
}

void ahead_drop(struct ahead *ahead, int reading)
{
    for (int i = 0; i < ahead->n; i++)
        if (ahead->touch[i].reading == reading)
            ahead->touch[i].reading = AHEAD_DONE;
        else if (ahead->touch[i].reading > reading)
            ahead->touch[i].reading--;
}

int ahead_found(struct ahead *ahead, struct thrum_span span)
{
    while (ahead->n > 0 && ahead->touch[0].span.end <= span.first)
        remove_first(ahead);
    if (ahead->n == 0 || ahead->touch[0].span.first >= span.end)
        return AHEAD_NEW;
    int reading = ahead->touch[0].reading;
    if (reading != AHEAD_DONE)
        remove_first(ahead);
    return reading;
}

int ahead_first(const struct ahead *ahead, int n)
{
    for (int i = 0; i < ahead->n; i++)
        if (ahead->touch[i].reading >= 0 && ahead->touch[i].reading < n)
            n = ahead->touch[i].reading;
    return n;
}
