#include "commands/findings.h"

#include "base/order.h"
#include "commands/json_out.h"
#include "commands/voice_file.h"

/* Wires that were said to be there but never touched have no tag: NULL. */
static const char *tag_of(const struct thrum_snapshot *snapshot, int wire)
{
    return wire >= 0 && wire < snapshot->n_wires ? snapshot->wire[wire] : NULL;
}

static json_t *tag_json(const struct thrum_snapshot *snapshot, int wire)
{
    const char *tag = tag_of(snapshot, wire);
    return tag ? json_text(tag) : json_null();
}

static json_t *strength_json(const struct thrum_voice *sender, const struct thrum_strength *strength)
{
    return json_pack("{s:o, s:b, s:o, s:o, s:o}", "sender", json_text(sender->name), "heard", strength->heard,
                     "dbfs", strength->heard ? json_level(strength->dbfs) : json_null(), "low_db",
                     strength->heard ? json_level(strength->low_db) : json_null(), "high_db",
                     json_level(strength->high_db));
}

json_t *reading_json(const struct thrum_snapshot *snapshot, const struct thrum_reading *reading,
                     const char *source)
{
    json_t *strength = json_array();
    double rate_hz = reading->rate_hz > 0.0 ? reading->rate_hz : 1.0;
    for (int i = 0; i < reading->n_senders && i < snapshot->n_senders; i++)
        json_array_append_new(strength, strength_json(&snapshot->sender[i], &reading->strength[i]));
    return json_pack("{s:o, s:i, s:o, s:o, s:o, s:o, s:o, s:o}", "wire", json_text(reading->wire), "touch",
                     reading->touch, "source", json_text(source ? source : ""), "start_s",
                     json_rounded((double)reading->first_frame / rate_hz, 1e-6), "duration_s",
                     json_rounded((double)reading->frames / rate_hz, 1e-6), "hum_dbfs",
                     json_level(reading->hum_dbfs), "strength", strength, "faults",
                     json_faults(reading->faults));
}

static json_t *rank_json(const struct thrum_snapshot *snapshot, int sender,
                         const struct thrum_wire_rank *rank)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:i, s:b, s:o}", "wire", tag_json(snapshot, rank->wire),
                     "sender", json_text(snapshot->sender[sender].name), "dbfs",
                     rank->heard ? json_level(rank->dbfs) : json_null(), "low_db",
                     rank->heard ? json_level(rank->low_db) : json_null(), "high_db",
                     json_level(rank->high_db), "touches", rank->touches, "excluded",
                     snapshot->excluded[rank->wire], "chance", json_rounded(rank->chance, 1e-9));
}

static json_t *advice_json(const struct thrum_snapshot *snapshot, int sender)
{
    json_t *advice = json_array();
    if (thrum_snapshot_silent(snapshot)) {
        json_array_append_new(advice, json_string(thrum_fault_advice(THRUM_FAULT_SILENT)));
        return advice;
    }
    for (int i = 0; i < THRUM_PICK_NOTES; i++) {
        uint32_t note = 1u << i;
        const char *text =
            snapshot->pick[sender].notes & note ? thrum_pick_note_text((enum thrum_pick_note)note) : NULL;
        if (text)
            json_array_append_new(advice, json_string(text));
    }
    return advice;
}

/* "NOT TO BE TRUSTED: ...", what must not be read apart from a wire's name; null for none. */
static json_t *caveat_json(const struct thrum_snapshot *snapshot, int sender)
{
    enum thrum_caveat caveat = thrum_snapshot_caveat(snapshot, sender);
    if (caveat == THRUM_CAVEAT_NONE)
        return json_null();
    return json_sprintf("%s: %s", thrum_caveat_name(caveat), thrum_caveat_reason(caveat));
}

/* A tag, or "3-14" for wires to be held together; null. */
static json_t *next_json(const struct thrum_snapshot *snapshot, const struct thrum_pick *pick)
{
    if (pick->next_touch < 0 || pick->next_last <= pick->next_touch || !tag_of(snapshot, pick->next_last))
        return tag_json(snapshot, pick->next_touch);
    return json_sprintf("%s-%s", tag_of(snapshot, pick->next_touch), tag_of(snapshot, pick->next_last));
}

json_t *pick_json(const struct thrum_snapshot *snapshot, int sender)
{
    const struct thrum_pick *pick = &snapshot->pick[sender];
    json_t *contenders = json_array();
    for (int i = 0; i < pick->n_contenders; i++)
        if (tag_of(snapshot, pick->contenders[i]))
            json_array_append_new(contenders, tag_json(snapshot, pick->contenders[i]));
    /* Only a pick names a wire; who leads otherwise is the first of the contenders. */
    return json_pack(
        "{s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "sender", json_text(snapshot->sender[sender].name),
        "outcome", thrum_outcome_name(pick->outcome), "caveat", caveat_json(snapshot, sender), "wire",
        tag_json(snapshot, pick->outcome == THRUM_PICKED ? pick->wire : -1), "chance",
        json_rounded(pick->chance, 1e-9), "lead_db", json_rounded(pick->lead_db, 1e-4), "contenders",
        contenders, "next_touch", next_json(snapshot, pick), "advice", advice_json(snapshot, sender));
}

double findings_mains_hz(const struct thrum_snapshot *snapshot)
{
    double hz[THRUM_MAX_READINGS];
    int n = 0;
    for (int i = 0; i < snapshot->n_readings; i++)
        if (snapshot->readings[i].mains_hz > 0.0)
            hz[n++] = snapshot->readings[i].mains_hz;
    if (n == 0)
        return snapshot->now.mains_hz;
    thrum_order(hz, n);
    return hz[n / 2];
}

json_t *findings_json(const struct findings *findings)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    json_t *senders = json_array(), *readings = json_array(), *wires = json_array(), *picks = json_array(),
           *warnings = json_array();
    for (int i = 0; i < snapshot->n_readings; i++)
        json_array_append_new(readings, reading_json(snapshot, &snapshot->readings[i], findings->source[i]));
    for (int s = 0; s < snapshot->n_senders; s++) {
        json_array_append_new(senders, voice_json(&snapshot->sender[s]));
        for (int i = 0; i < snapshot->pick[s].n_ranked; i++)
            if (tag_of(snapshot, snapshot->pick[s].rank[i].wire))
                json_array_append_new(wires, rank_json(snapshot, s, &snapshot->pick[s].rank[i]));
        json_array_append_new(picks, pick_json(snapshot, s));
    }
    for (int i = 0; i < findings->n_warnings; i++)
        json_array_append_new(warnings, json_pack("{s:s, s:o}", "code", findings->warning[i].code, "text",
                                                  json_text(findings->warning[i].text)));
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "thrum", THRUM_VERSION, "senders", senders,
                     "mains_hz", json_mains(findings_mains_hz(snapshot)), "readings", readings, "wires",
                     wires, "picks", picks, "warnings", warnings);
}
