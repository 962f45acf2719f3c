/* The search by halves in a round: tags of groups, what the groups' touches do to the pick, and the tag that comes next. */
#include <string.h>

#include "round/round_own.h"
#include "round/tags.h"

bool round_group(const struct thrum_round *r, const char *tag, int *first, int *last)
{
    char from[THRUM_WIRE_TAG_SIZE], to[THRUM_WIRE_TAG_SIZE];
    if (!r->config.halves || !thrum_tag_range(tag, from, to))
        return false;
    *first = round_find_wire(r, from);
    *last = round_find_wire(r, to);
    return *first >= 0 && *last > *first;
}

bool round_no_group(const struct thrum_round *r, const char *tag)
{
    char from[THRUM_WIRE_TAG_SIZE], to[THRUM_WIRE_TAG_SIZE];
    int first, last;
    return r->config.halves && thrum_tag_range(tag, from, to) && !round_group(r, tag, &first, &last);
}

int round_list_groups(struct thrum_round *r)
{
    int n = 0;
    for (int i = 0; i < r->n_readings; i++) {
        const struct thrum_strength *strength = &r->readings[i].strength[0];
        struct thrum_group_touch *group = &r->groups[n];
        if (round_no_strength(&r->readings[i]) ||
            !round_group(r, r->readings[i].wire, &group->first, &group->last))
            continue;
        group->heard = strength->heard;
        group->dbfs = strength->dbfs;
        group->sd_db = strength->sd_db;
        group->high_db = strength->high_db;
        group->faults = r->readings[i].faults;
        n++;
    }
    return n;
}

void round_follow(struct thrum_round *r)
{
    const struct thrum_pick *pick = &r->pick[0];
    if (!r->config.halves)
        return;
    round_pick_all(r);
    if (pick->next_touch < 0 || pick->next_touch >= r->n_wires)
        return;
    const char *first = r->wire[pick->next_touch];
    if (pick->next_last > pick->next_touch && pick->next_last < r->n_wires)
        thrum_tag_join(first, r->wire[pick->next_last], r->current);
    else
        strcpy(r->current, first);
}

bool round_left_out(const struct thrum_round *r, int first, int last)
{
    bool any = false;
    for (int i = first; i <= last; i++)
        any |= r->excluded[i];
    return any;
}

bool round_move_group(struct thrum_round *r, int by)
{
    int first, last;
    if (!round_group(r, r->current, &first, &last))
        return false;
    strcpy(r->current, r->wire[by > 0 ? last : first]);
    thrum_tag_move(r->current, by);
    return true;
}
