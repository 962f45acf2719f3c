#include "commands/findings_rows.h"

#include <stdio.h>
#include <string.h>

#include "commands/findings.h"

/* A wire without a tone has a row of its own from this chance on. */
#define WORTH_A_ROW 0.001

const char *findings_tag(const struct thrum_snapshot *snapshot, int wire)
{
    return wire >= 0 && wire < snapshot->n_wires ? snapshot->wire[wire] : "?";
}

double findings_top_db(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick)
{
    double top = THRUM_FLOOR_DBFS;
    for (int i = 0; i < pick->n_ranked; i++)
        if (pick->rank[i].heard && !snapshot->excluded[pick->rank[i].wire] && pick->rank[i].high_db > top)
            top = pick->rank[i].high_db;
    return top;
}

enum findings_place findings_place(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick,
                                   const struct thrum_wire_rank *rank)
{
    bool out = !rank->heard && (rank->chance < WORTH_A_ROW || pick->outcome == THRUM_NO_TONE);
    if (snapshot->excluded[rank->wire])
        return FINDINGS_EXCLUDED;
    if (rank->touches == 0)
        return FINDINGS_NONE;
    return out ? FINDINGS_SILENT : FINDINGS_ROW;
}

void findings_chance(const struct thrum_pick *pick, const struct thrum_wire_rank *rank, char *text,
                     size_t size)
{
    if (pick->outcome == THRUM_NO_TONE)
        snprintf(text, size, "-");
    else
        chance_text(rank->chance, text, size);
}

static const struct thrum_wire_rank *rank_of(const struct thrum_pick *pick, int wire)
{
    for (int i = 0; i < pick->n_ranked; i++)
        if (pick->rank[i].wire == wire)
            return &pick->rank[i];
    return NULL;
}

bool findings_listed(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick, int wire,
                     enum findings_place place, char *text)
{
    const struct thrum_wire_rank *rank = rank_of(pick, wire);
    if (!rank || findings_place(snapshot, pick, rank) != place)
        return false;
    snprintf(text, FINDINGS_LISTED_SIZE, "%s", findings_tag(snapshot, wire));
    if (place == FINDINGS_EXCLUDED && rank->heard)
        snprintf(text + strlen(text), FINDINGS_LISTED_SIZE - strlen(text), " (%.1f dBFS)", rank->dbfs);
    return true;
}

const char *findings_advice(const struct thrum_snapshot *snapshot, int sender, int i)
{
    uint32_t note = 1u << i;
    if (!(snapshot->pick[sender].notes & note) || note == THRUM_NOTE_TOUCH_AGAIN ||
        thrum_snapshot_silent(snapshot))
        return NULL;
    return thrum_pick_note_text((enum thrum_pick_note)note);
}
