/** @file tags.h
 *  The wires' tags and how one follows another.
 */
#ifndef THRUM_TAGS_H
#define THRUM_TAGS_H

#include <stdbool.h>

#include "thrum/units.h"

/** A tag is UTF-8, 1 to THRUM_WIRE_TAG_SIZE - 1 bytes. NULL is no tag. */
bool thrum_tag_ok(const char *tag);

/**
 * The tag `by` further on: "7" gives "8", "w07" gives "w08", "w09" gives "w10"; a tag without digits gets them
 * ("red" gives "red2"). Never below 1. @param[in,out] tag shape [THRUM_WIRE_TAG_SIZE].
 */
void thrum_tag_move(char *tag, int by);

/** "3-14": its two ends, numbers, the first below the last; false, and nothing is sure of them, for any other tag.
 *  @param[out] first, last  Shape [THRUM_WIRE_TAG_SIZE]. */
bool thrum_tag_range(const char *tag, char *first, char *last);

/** The other way. @param[out] tag  Shape [THRUM_WIRE_TAG_SIZE]; cut where it does not fit, which numbers do. */
void thrum_tag_join(const char *first, const char *last, char *tag);

#endif
