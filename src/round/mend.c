/* Wires and touches of a round, and what mends them: undo, touches dropped, exclusion, tags moved. */
#include <string.h>

#include "round/round_own.h"
#include "round/tags.h"

void round_forget_so_far(struct thrum_round *r)
{
    memset(&r->so_far, 0, sizeof r->so_far);
    r->so_far.n_senders = r->config.listener.n_voices;
    r->hold = (struct hold){.state = THRUM_HOLD_ON};
    r->hold_frame = r->frames;
    r->looks_since_enough = 0;
}

int round_find_wire(const struct thrum_round *r, const char *tag)
{
    for (int i = 0; i < r->n_wires; i++)
        if (strcmp(r->wire[i], tag) == 0)
            return i;
    return -1;
}

/* Index of the wire, new if it has to be; -1 when there is no room. */
int round_wire(struct thrum_round *r, const char *tag)
{
    int i = round_find_wire(r, tag);
    if (i >= 0 || r->n_wires == THRUM_MAX_WIRES)
        return i;
    strcpy(r->wire[r->n_wires], tag);
    r->excluded[r->n_wires] = r->named[r->n_wires] = false;
    return r->n_wires++;
}

int round_touches(const struct thrum_round *r, const char *tag)
{
    int n = 0;
    for (int i = 0; i < r->n_readings; i++)
        n += strcmp(r->readings[i].wire, tag) == 0;
    return n;
}

/* Wires that only readings now gone or renamed had brought in are none of the round: their tags were slips. */
static void tidy(struct thrum_round *r)
{
    int n = 0;
    for (int i = 0; i < r->n_wires; i++) {
        if (!r->named[i] && round_touches(r, r->wire[i]) == 0)
            continue;
        memmove(r->wire[n], r->wire[i], sizeof r->wire[n]);
        r->excluded[n] = r->excluded[i];
        r->named[n++] = r->named[i];
    }
    r->n_wires = n;
    r->stale = true;
}

static void count_touches(struct thrum_round *r)
{
    for (int i = 0; i < r->n_readings; i++) {
        int n = 1;
        for (int k = 0; k < i; k++)
            n += strcmp(r->readings[k].wire, r->readings[i].wire) == 0;
        r->readings[i].touch = n;
    }
}

enum thrum_status round_undo(struct thrum_round *r)
{
    if (r->touching) {
        r->touching = false;
        round_forget_so_far(r);
        return THRUM_OK;
    }
    if (r->n_readings == 0)
        return THRUM_ERR_NOT_FOUND;
    strcpy(r->current, r->readings[--r->n_readings].wire);
    ahead_drop(&r->ahead, r->n_readings);
    r->last_end = 0;
    tidy(r);
    return THRUM_OK;
}

/* The last touch of the current wire; -1 for none. */
static int last_of_current(const struct thrum_round *r)
{
    int i = r->n_readings - 1;
    while (i >= 0 && strcmp(r->readings[i].wire, r->current) != 0)
        i--;
    return i;
}

enum thrum_status round_drop(struct thrum_round *r)
{
    int i = last_of_current(r);
    if (i < 0)
        return THRUM_ERR_NOT_FOUND;
    r->n_readings--;
    memmove(&r->readings[i], &r->readings[i + 1], (size_t)(r->n_readings - i) * sizeof *r->readings);
    ahead_drop(&r->ahead, i);
    r->last_end = 0;
    count_touches(r);
    tidy(r);
    return THRUM_OK;
}

enum thrum_status thrum_round_exclude(struct thrum_round *round, const char *tag, bool excluded)
{
    struct thrum_round *r = round;
    int first, last;
    if (!thrum_tag_ok(tag) || round_no_group(r, tag) || round_group(r, tag, &first, &last))
        return THRUM_ERR_ARG;
    int wire = round_wire(r, tag);
    if (wire < 0)
        return THRUM_ERR_FULL;
    r->excluded[wire] = excluded;
    r->named[wire] = true;
    r->stale = true;
    if (r->n_readings == 0)
        round_follow(r);
    return THRUM_OK;
}

enum thrum_status round_move_tags(struct thrum_round *r, int by)
{
    char moved[THRUM_WIRE_TAG_SIZE];
    int first = last_of_current(r); /* the last one of all, where this wire has none */
    first = first < 0 ? r->n_readings - 1 : first;
    if (first < 0)
        return THRUM_ERR_NOT_FOUND;
    for (int pass = 0; pass < 2; pass++) /* all, or none */
        for (int i = first; i < r->n_readings; i++) {
            int one, other;
            strcpy(moved, r->readings[i].wire);
            thrum_tag_move(moved, by);
            if (strcmp(moved, r->readings[i].wire) == 0 || round_group(r, r->readings[i].wire, &one, &other))
                return THRUM_ERR_NOT_FOUND;
            if (pass == 1 && round_wire(r, moved) < 0)
                return THRUM_ERR_FULL;
            if (pass == 1)
                strcpy(r->readings[i].wire, moved);
        }
    strcpy(r->current, r->readings[r->n_readings - 1].wire);
    thrum_tag_move(r->current, 1);
    r->last_end = 0;
    count_touches(r);
    tidy(r);
    return THRUM_OK;
}
