/* What earlier rounds found of the placement spread, from what thrum rank --json wrote. */
#ifndef THRUM_HISTORY_H
#define THRUM_HISTORY_H

#include "sound/message.h"
#include "thrum/pick.h"

/* Adds up what the touches of several such documents say. CODE_DONE, or CODE_FILE with a message that names the file. */
int history_read(const char *const *paths, int n, struct thrum_spread *earlier,
                 struct thrum_message *message);

#endif
