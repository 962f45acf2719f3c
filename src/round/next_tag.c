/* The current tag after a touch: the hand goes on in order, or to the wire that the round's own advice names. */
#include <string.h>

#include "round/round_own.h"
#include "round/tags.h"

/* As often as this time round asks for. A touch that says nothing of its wire is none. */
static bool is_touched(const struct thrum_round *r, const char *tag)
{
    int touches = 0;
    for (int i = 0; i < r->n_readings; i++)
        touches += !round_no_strength(&r->readings[i]) && strcmp(r->readings[i].wire, tag) == 0;
    return touches > r->times_round;
}

static bool is_excluded(const struct thrum_round *r, const char *tag)
{
    int wire = round_find_wire(r, tag);
    return wire >= 0 && r->excluded[wire];
}

/* With hands free an excluded wire is touched all the same, and must be counted. */
static void step(struct thrum_round *r)
{
    thrum_tag_move(r->current, 1);
    for (int i = 0; i < r->n_wires && !r->config.hands_free && is_excluded(r, r->current); i++)
        thrum_tag_move(r->current, 1);
}

void round_to_new_wire(struct thrum_round *r)
{
    int i = r->n_readings - 1;
    while (i >= 0 && r->readings[i].touch > 1)
        i--;
    if (i >= 0)
        strcpy(r->current, r->readings[i].wire);
    for (int n = 0; n <= r->n_wires && (is_touched(r, r->current) || is_excluded(r, r->current)); n++)
        thrum_tag_move(r->current, 1);
}

/* What the first pick in doubt asks for; without doubt the picked wire, to be looked at once more; else -1. */
static int advised_wire(const struct thrum_round *r)
{
    for (int s = 0; s < r->config.listener.n_voices; s++)
        if (r->pick[s].outcome != THRUM_PICKED && r->pick[s].next_touch >= 0)
            return r->pick[s].next_touch;
    return r->config.listener.n_voices == 1 && r->pick[0].outcome == THRUM_PICKED ? r->pick[0].wire : -1;
}

/* The first wire after the one last touched, of all or of those not touched yet; -1 where there is none. */
static int wire_after(const struct thrum_round *r, bool untouched)
{
    int last = r->n_readings > 0 ? round_find_wire(r, r->readings[r->n_readings - 1].wire) : -1;
    for (int i = 1; i <= r->n_wires; i++) {
        int wire = (last + i) % r->n_wires;
        if (!r->excluded[wire] && !(untouched && is_touched(r, r->wire[wire])))
            return wire;
    }
    return -1;
}

void round_all_again(struct thrum_round *r)
{
    if (wire_after(r, true) < 0 && r->n_readings > 0)
        r->times_round++;
    int wire = wire_after(r, true);
    if (wire >= 0)
        strcpy(r->current, r->wire[wire]);
}

bool round_is_all_again(const struct thrum_round *r)
{
    return r->times_round > 0 && wire_after(r, true) >= 0;
}

/* All that is known of has been touched: the advised wire; where nothing is advised the next one, for another time round. */
static int wire_again(struct thrum_round *r)
{
    round_pick_all(r);
    int wire = advised_wire(r);
    return wire < 0 && r->config.n_wires > 0 ? wire_after(r, false) : wire;
}

/* A touch of the current tag would be one of a wire not touched yet, as far as anybody knows: where not all wires have a tag,
 * any new one may be such. */
static bool is_new(const struct thrum_round *r)
{
    bool all_have_tags = r->config.n_wires > 0 && r->n_wires >= r->config.n_wires;
    return !is_touched(r, r->current) && (!all_have_tags || round_find_wire(r, r->current) >= 0);
}

static void follow_advice(struct thrum_round *r)
{
    bool known = r->config.n_wires > 0;
    int wire = known ? wire_after(r, true) : -1;
    if (is_new(r))
        return;
    if (wire < 0 && r->n_wires < r->config.n_wires) {
        round_to_new_wire(r);
        return;
    }
    wire = wire < 0 ? wire_again(r) : wire;
    if (wire >= 0 && wire < r->n_wires)
        strcpy(r->current, r->wire[wire]);
}

void round_move_on(struct thrum_round *r)
{
    char touched[THRUM_WIRE_TAG_SIZE];
    int first, last;
    strcpy(touched, r->current);
    if (!round_move_group(r, 1))
        step(r);
    if (r->config.halves) {
        /* no wire is touched that was not named beforehand */
        if (round_find_wire(r, r->current) < 0 && !round_group(r, r->current, &first, &last))
            strcpy(r->current, touched);
        round_follow(r);
    } else if (!r->config.hands_free || r->config.take_when_enough) {
        follow_advice(r);
    }
}
