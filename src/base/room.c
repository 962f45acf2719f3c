#include "base/room.h"

#include <stdlib.h>

#define PAGE_BYTES 4096 /* the least there is */

void *thrum_room(size_t bytes)
{
    volatile unsigned char *room = calloc(bytes, 1);
    for (size_t i = 0; room && i < bytes; i += PAGE_BYTES)
        room[i] = 0; /* volatile: a plain zero into zeroed memory would be left out */
    return (void *)room;
}
