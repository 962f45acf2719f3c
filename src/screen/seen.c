#include "screen/seen.h"

#include <string.h>

#define MAY_BE 0.01 /* a wire with less chance settles nothing */

const struct thrum_pick *seen_pick(const struct scene *scene)
{
    return scene->sender < 0 ? NULL : &scene->snapshot->pick[scene->sender];
}

bool seen_untouched(const struct scene *scene)
{
    return scene->sender < 0 || scene->snapshot->n_readings == 0;
}

bool seen_early(const struct scene *scene, int *touched, int *n_wires)
{
    int left = thrum_snapshot_untouched(scene->snapshot, scene->sender, n_wires);
    *touched = *n_wires - left;
    return left > 0 && seen_pick(scene)->outcome == THRUM_TOO_CLOSE;
}

enum thrum_caveat seen_caveat(const struct scene *scene)
{
    return thrum_snapshot_caveat(scene->snapshot, scene->sender);
}

int seen_ranked(const struct thrum_pick *pick)
{
    return pick->n_ranked < THRUM_MAX_WIRES ? pick->n_ranked : THRUM_MAX_WIRES;
}

const struct thrum_wire_rank *seen_rank(const struct thrum_pick *pick, int wire)
{
    for (int i = 0; i < seen_ranked(pick); i++)
        if (pick->rank[i].wire == wire)
            return &pick->rank[i];
    return NULL;
}

int seen_current(const struct scene *scene)
{
    for (int i = 0; i < scene->snapshot->n_wires && i < THRUM_MAX_WIRES; i++)
        if (strcmp(scene->snapshot->wire[i], scene->snapshot->current) == 0)
            return i;
    return -1;
}

/* For one of the senders, whichever is shown: one touch is a touch for all. */
static bool may_settle(const struct thrum_snapshot *snapshot, int wire)
{
    for (int i = 0; i < snapshot->n_senders; i++) {
        const struct thrum_wire_rank *rank = seen_rank(&snapshot->pick[i], wire);
        if (snapshot->pick[i].outcome == THRUM_TOO_CLOSE && rank && rank->chance >= MAY_BE)
            return true;
    }
    return false;
}

int seen_to_touch(const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires, current = seen_current(scene);
    const struct thrum_wire_rank *rank = seen_rank(pick, current);
    if (pick->outcome != THRUM_TOO_CLOSE)
        return -1;
    if (scene->snapshot->halves || pick->next_touch < 0 || !rank)
        return pick->next_touch;
    bool helps =
        seen_early(scene, &touched, &n_wires) ? rank->touches == 0 : may_settle(scene->snapshot, current);
    return helps ? current : pick->next_touch;
}

bool seen_nameless(const struct scene *scene, int wire)
{
    return wire >= scene->snapshot->n_wires;
}

bool seen_all_again(const struct scene *scene)
{
    return scene->snapshot->all_again && !scene->snapshot->finished;
}

bool seen_holds_group(const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    return scene->snapshot->group && (!pick || pick->outcome != THRUM_PICKED);
}

bool seen_holds_on(const struct scene *scene)
{
    return scene->facts->input_state != THRUM_INPUT_LOST && scene->snapshot->touching &&
           !scene->snapshot->finished;
}
