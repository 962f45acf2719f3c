/* What the words about the pick ask of what is seen. */
#ifndef THRUM_SCREEN_SEEN_H
#define THRUM_SCREEN_SEEN_H

#include "screen/words.h"

/* The pick of the sender on show; NULL without one. The functions below that need it say so. */
const struct thrum_pick *seen_pick(const struct scene *scene);

/* Nothing has been touched yet, or there is no sender. */
bool seen_untouched(const struct scene *scene);

/* Wires are left that may carry more: too close is no news yet. Needs a pick. */
bool seen_early(const struct scene *scene, int *touched, int *n_wires);

/* As thrum_snapshot_caveat(). Needs a pick. */
enum thrum_caveat seen_caveat(const struct scene *scene);

/* The wires of a ranking, and the place of one in it; NULL where it has none. */
int seen_ranked(const struct thrum_pick *pick);
const struct thrum_wire_rank *seen_rank(const struct thrum_pick *pick, int wire);

/* Index of the current wire, or -1 when it is none of the round yet. */
int seen_current(const struct scene *scene);

/* The touch to make next, or -1. The current wire where that helps, too: one not touched yet while wires are left, else one
 * that may be a sender's. The words and the large tag then name the same one. Needs a pick. */
int seen_to_touch(const struct scene *scene);

/* That wire is one of those that nobody has named yet: its index is beyond the wires of the snapshot. */
bool seen_nameless(const struct scene *scene, int wire);

/* The current tag is that of a group that is to be held next. */
bool seen_holds_group(const struct scene *scene);

/* All wires are touched once more, in order. */
bool seen_all_again(const struct scene *scene);

/* A touch is in progress, and the input is there. */
bool seen_holds_on(const struct scene *scene);

#endif
