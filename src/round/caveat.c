/* What belongs to a verdict beside the pick itself: seen from all readings of the round. */
#include <string.h>

#include "thrum/round.h"

/* May a miscount have given this wire another's tag? Only one before its own touch can. */
static bool count_in_doubt(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick)
{
    bool named = pick->outcome == THRUM_PICKED && pick->wire >= 0 && pick->wire < THRUM_MAX_WIRES;
    for (int i = 0; i < snapshot->n_readings && i < THRUM_MAX_READINGS; i++) {
        const struct thrum_reading *reading = &snapshot->readings[i];
        if (reading->faults & THRUM_FAULT_COUNT &&
            (!named || strcmp(reading->wire, snapshot->wire[pick->wire]) == 0))
            return true;
    }
    return false;
}

/* A reading is marked when it is made; what is heard meanwhile may tell before. */
static bool meddles_now(const struct thrum_snapshot *snapshot)
{
    uint32_t faults = snapshot->now.faults | (snapshot->touching ? snapshot->so_far.faults : 0u);
    return !snapshot->finished && (faults & THRUM_FAULTS_UNTRUSTED) != 0;
}

enum thrum_caveat thrum_snapshot_caveat(const struct thrum_snapshot *snapshot, int sender)
{
    if (snapshot->pick[sender].notes & THRUM_NOTE_UNTRUSTED || meddles_now(snapshot))
        return THRUM_CAVEAT_UNTRUSTED;
    if (snapshot->pick[sender].notes & THRUM_NOTE_LEFT_OUT)
        return THRUM_CAVEAT_LEFT_OUT;
    return count_in_doubt(snapshot, &snapshot->pick[sender]) ? THRUM_CAVEAT_COUNT : THRUM_CAVEAT_NONE;
}

const char *thrum_caveat_name(enum thrum_caveat caveat)
{
    switch (caveat) {
    case THRUM_CAVEAT_UNTRUSTED:
        return "NOT TO BE TRUSTED";
    case THRUM_CAVEAT_LEFT_OUT:
        return "LOOK AGAIN";
    case THRUM_CAVEAT_COUNT:
        return "CHECK THE TAG";
    case THRUM_CAVEAT_NONE:
        break;
    }
    return "";
}

const char *thrum_caveat_reason(enum thrum_caveat caveat)
{
    switch (caveat) {
    case THRUM_CAVEAT_UNTRUSTED:
        return "the input changes strengths by itself";
    case THRUM_CAVEAT_LEFT_OUT:
        return "an excluded wire carries more tone";
    case THRUM_CAVEAT_COUNT:
        return "touches may be miscounted";
    case THRUM_CAVEAT_NONE:
        break;
    }
    return "";
}

static int strongest(const struct thrum_snapshot *snapshot, int sender)
{
    const struct thrum_pick *pick = &snapshot->pick[sender];
    const struct thrum_wire_rank *best = NULL;
    for (int i = 0; i < pick->n_ranked; i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i];
        if (rank->heard && !snapshot->excluded[rank->wire] && (!best || rank->dbfs > best->dbfs))
            best = rank;
    }
    return best ? best->wire : -1;
}

int thrum_snapshot_rival(const struct thrum_snapshot *snapshot, int sender, int *wire)
{
    *wire = strongest(snapshot, sender);
    for (int i = 0; *wire >= 0 && i < snapshot->n_senders; i++)
        if (i != sender && strongest(snapshot, i) == *wire)
            return i;
    *wire = -1;
    return -1;
}

bool thrum_snapshot_silent(const struct thrum_snapshot *snapshot)
{
    int n = 0;
    while (n < snapshot->n_readings && snapshot->readings[n].faults & THRUM_FAULT_SILENT)
        n++;
    return n > 0 && n == snapshot->n_readings;
}

int thrum_snapshot_untouched(const struct thrum_snapshot *snapshot, int sender, int *n_wires)
{
    const struct thrum_pick *pick = &snapshot->pick[sender];
    int untouched = 0, wires = 0;
    for (int i = 0; i < pick->n_ranked && i < THRUM_MAX_WIRES; i++) {
        int wire = pick->rank[i].wire;
        if (wire < 0 || wire >= THRUM_MAX_WIRES || snapshot->excluded[wire])
            continue;
        wires++;
        untouched += pick->rank[i].touches == 0;
    }
    *n_wires = wires;
    return untouched;
}
