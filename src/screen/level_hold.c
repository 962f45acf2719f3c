#include "screen/level_hold.h"

#include "screen/words.h"

#define HOLD_S 0.25

void level_hold(struct level_hold *hold, struct thrum_screen_view *view,
                const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts)
{
    struct scene scene = scene_of(snapshot, facts, view->sender);
    uint64_t frames = snapshot->now.frames;
    bool stands = view->level_held && scene.sender == hold->sender && frames >= hold->frames &&
                  (double)(frames - hold->frames) < HOLD_S * snapshot->rate_hz &&
                  words_has_level(scene.dbfs) == words_has_level(view->level_dbfs);
    if (stands)
        return;
    *hold = (struct level_hold){.sender = scene.sender, .frames = frames};
    view->level_held = true;
    view->level_dbfs = scene.dbfs;
}
