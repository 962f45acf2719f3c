/* What earlier rounds found of the placement spread, from what thrum rank --json wrote. */
#ifndef THRUM_HISTORY_H
#define THRUM_HISTORY_H

#include "commands/options.h"
#include "thrum/pick.h"

/* The everyday settings of a pick, with what the touches of all these documents say of the hand. CODE_DONE, or CODE_FILE and
 * has said which file is bad. */
int history_settings(const struct option_texts *paths, struct thrum_pick_config *pick);

#endif
