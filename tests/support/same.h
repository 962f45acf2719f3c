/* Readings and snapshots alike to the last digit. */
#ifndef THRUM_TEST_SAME_H
#define THRUM_TEST_SAME_H

#include "thrum/reading.h"
#include "thrum/round.h"

/* Fails where a field differs in any bit. Not a comparison of memory: what lies between the fields is nobody's. */
void expect_same_reading(const struct thrum_reading *a, const struct thrum_reading *b);
void expect_same_snapshot(const struct thrum_snapshot *a, const struct thrum_snapshot *b);

#endif
