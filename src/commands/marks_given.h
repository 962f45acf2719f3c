/* Touches that are known before the sound is heard. */
#ifndef THRUM_MARKS_GIVEN_H
#define THRUM_MARKS_GIVEN_H

#include <stddef.h>

#include "sound/source.h"

/* A copy, in order of their ends, malloc'ed [n]. A mark without a length lasts until the next one begins; the last one to the end of
 * the sound. NULL without memory, or for none. */
struct thrum_mark *marks_given(const struct thrum_mark *marks, size_t n);

#endif
