#include "listen/history.h"

#include <stdlib.h>
#include <string.h>

#include "base/room.h"

enum thrum_status thrum_history_create(size_t keep, struct thrum_history *history)
{
    *history = (struct thrum_history){.keep = keep, .room = keep + keep / 2 + 1};
    history->samples = thrum_room(history->room * sizeof *history->samples);
    return history->samples ? THRUM_OK : THRUM_ERR_MEM;
}

void thrum_history_destroy(struct thrum_history *history)
{
    free(history->samples);
    history->samples = NULL;
}

float *thrum_history_room(struct thrum_history *history, size_t n)
{
    if (history->held + n > history->room) {
        size_t drop = history->held - history->keep;
        memmove(history->samples, history->samples + drop, history->keep * sizeof *history->samples);
        history->held -= drop;
        history->dropped += drop;
    }
    return history->samples + history->held;
}

void thrum_history_added(struct thrum_history *history, size_t n)
{
    history->held += n;
}

uint64_t thrum_history_end(const struct thrum_history *history)
{
    return history->dropped + history->held;
}

const float *thrum_history_part(const struct thrum_history *history, uint64_t *first)
{
    uint64_t end = thrum_history_end(history), oldest = end > history->keep ? end - history->keep : 0;
    if (*first < oldest)
        *first = oldest;
    return history->samples + (*first - history->dropped);
}
