/* --exclude TAG[,TAG...]: wires that cannot be it, as they are charted already or taped off. */
#ifndef THRUM_EXCLUDING_H
#define THRUM_EXCLUDING_H

#include "commands/options.h"
#include "thrum/round.h"

/* All lists hold tags with commas between them; else says what does not. */
bool exclude_lists_ok(const struct option_texts *lists);

/* The first tag of the lists that is none of the snapshot's wires, in tag; false when there is none. */
bool exclude_unknown(const struct option_texts *lists, const struct thrum_snapshot *snapshot,
                     char tag[THRUM_WIRE_TAG_SIZE]);

/* Excludes them from the round; tags that it does not know become wires of it. THRUM_ERR_FULL: no room for another. */
enum thrum_status exclude_wires(const struct option_texts *lists, struct thrum_round *round);

#endif
