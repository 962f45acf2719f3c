/** @file room.h
 *  Room that is there from the start: the system gives memory only where it is first written, page by page.
 */
#ifndef THRUM_ROOM_H
#define THRUM_ROOM_H

#include <stddef.h>

/** Bytes zeroed and really had, so that a live round neither grows nor waits for memory later; NULL: too little memory.
 *  Given back with free(). Any thread. */
void *thrum_room(size_t bytes);

#endif
