/* The level in figures, held for a quarter of a second of sound: figures that change faster cannot be read, and large ones cost
 * most of a picture. Touches no terminal. */
#ifndef THRUM_SCREEN_LEVEL_HOLD_H
#define THRUM_SCREEN_LEVEL_HOLD_H

#include <stdint.h>

#include "screen/screen.h"

/* Since when the level on show is shown, and whose it is. All zero begins. */
struct level_hold {
    int sender;
    uint64_t frames;
};

/* Sets the view's held level: the one it has stands, unless its time is over, another sender is shown, the sound has begun anew,
 * or there is a level now and was none, or the other way round. */
void level_hold(struct level_hold *hold, struct thrum_screen_view *view,
                const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts);

#endif
