#include "bundle/share.h"

#include <math.h>
#include <string.h>

#include "bundle/pick_own.h"

/* From here on two senders are said to be on one wire, and neither is picked. */
#define CONFLICT_FROM 0.5

static bool takes_part(const struct thrum_pick *pick)
{
    if (pick->outcome == THRUM_NO_TONE)
        return false;
    for (int i = 0; i < pick->n_ranked; i++)
        if (pick->rank[i].heard)
            return true;
    return false;
}

static void put_chances(const struct thrum_pick *pick, double *chance)
{
    for (int i = 0; i < pick->n_ranked; i++)
        chance[pick->rank[i].wire] = pick->rank[i].chance;
}

/* Of the two likeliest the one touched less. */
static int touch_of(const struct thrum_pick *pick)
{
    const struct thrum_wire_rank *first = &pick->rank[0], *second = &pick->rank[1];
    return pick->n_ranked > 1 && second->chance > 0.0 && second->touches < first->touches ? second->wire
                                                                                          : first->wire;
}

/* rival: another sender was strongest on the wire that was the likeliest. */
static void decide_again(const struct thrum_pick_config *config, bool conflict, bool rival,
                         struct thrum_pick *pick)
{
    bool was_picked = pick->outcome == THRUM_PICKED;
    double best = pick->rank[0].chance;
    if (pick->outcome == THRUM_EVERYWHERE && !(best >= config->sure))
        return;
    pick->wire = pick->rank[0].wire;
    pick->chance = best;
    pick->outcome = best >= config->sure && !conflict ? THRUM_PICKED : THRUM_TOO_CLOSE;
    if (pick->outcome == THRUM_PICKED) {
        pick->next_touch = -1;
        pick->notes &= ~(uint32_t)(THRUM_NOTE_TOUCH_AGAIN | THRUM_NOTE_TWO_EQUAL | THRUM_NOTE_LIFT_COMMON);
    } else if (was_picked) {
        pick->next_touch = touch_of(pick);
        pick->notes |= THRUM_NOTE_TOUCH_AGAIN;
    }
    if (pick->outcome == THRUM_PICKED || pick->next_touch >= 0)
        pick->notes &= ~(uint32_t)THRUM_NOTE_STUCK;
    if (conflict || (was_picked && pick->outcome != THRUM_PICKED && rival))
        pick->notes |= THRUM_NOTE_ONE_WIRE;
    else if (pick->outcome == THRUM_PICKED && pick->lead_db < 0.0)
        pick->notes |= THRUM_NOTE_TAKEN;
}

void thrum_share_picks(struct thrum_assign *assign, const struct thrum_pick_config *config,
                       struct thrum_pick *picks, int n_picks)
{
    int part[THRUM_MAX_SENDERS], likeliest[THRUM_MAX_SENDERS], n = 0;
    struct thrum_assigned assigned;
    for (int s = 0; s < n_picks; s++)
        if (takes_part(&picks[s]))
            part[n++] = s;
    if (n < 2)
        return;
    for (int i = 0; i < n; i++) {
        likeliest[i] = picks[part[i]].rank[0].wire;
        put_chances(&picks[part[i]], thrum_assign_chances(assign, i));
    }
    thrum_assign_solve(assign, n, picks[part[0]].n_ranked, &assigned);
    for (int i = 0; i < n; i++) {
        bool conflict = false, rival = false;
        for (int j = 0; j < n; j++) {
            conflict |= j != i && assigned.together[i][j] >= CONFLICT_FROM;
            rival |= j != i && likeliest[j] == likeliest[i];
        }
        thrum_pick_rank_again(config, thrum_assign_chances(assign, i), &picks[part[i]]);
        decide_again(config, conflict, rival, &picks[part[i]]);
    }
}
