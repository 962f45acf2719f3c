/* How a ranking is laid out, the same in print and on paper: which wires have a row, which are only listed. */
#ifndef THRUM_FINDINGS_ROWS_H
#define THRUM_FINDINGS_ROWS_H

#include <stdbool.h>
#include <stddef.h>

#include "thrum/round.h"

/* Bars reach from the upper end of the highest interval down to this much less. */
#define FINDINGS_BAR_SPAN_DB 30.0

/* What a wire is told by: nothing, a row of its own, or its name in one of two lists. */
enum findings_place { FINDINGS_NONE, FINDINGS_ROW, FINDINGS_SILENT, FINDINGS_EXCLUDED };

enum findings_place findings_place(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick,
                                   const struct thrum_wire_rank *rank);

/* A wire's tag; "?" where there is no such wire. */
const char *findings_tag(const struct thrum_snapshot *snapshot, int wire);

/* The upper end of the highest interval. */
double findings_top_db(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick);

/* "99.35 %", or "-": with nothing heard no wire has a chance to speak of. */
void findings_chance(const struct thrum_pick *pick, const struct thrum_wire_rank *rank, char *text,
                     size_t size);

/* Whether the wire is named in that list, and how: its tag, an excluded one with its strength. */
#define FINDINGS_LISTED_SIZE (THRUM_WIRE_TAG_SIZE + 24)
bool findings_listed(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick, int wire,
                     enum findings_place place, char *text);

/* What is worth saying beside the verdict and the next step; NULL when note i, 0 to THRUM_PICK_NOTES - 1, is not. Static
 * storage. */
const char *findings_advice(const struct thrum_snapshot *snapshot, int sender, int i);

#endif
