/* The part of the words that speaks of the pick. */
#include <math.h>
#include <string.h>

#include "screen/seen.h"
#include "screen/words.h"

/* The best of the others that has been touched and may be it. */
static const struct thrum_wire_rank *runner_up(const struct scene *scene, const struct thrum_pick *pick)
{
    const struct thrum_wire_rank *best = NULL;
    for (int i = 0; i < seen_ranked(pick); i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i];
        if (rank->wire != pick->wire && rank->heard && !words_excluded(scene, rank->wire) &&
            (!best || rank->dbfs > best->dbfs))
            best = rank;
    }
    return best;
}

static int contender_count(const struct thrum_pick *pick)
{
    return pick->n_contenders < THRUM_MAX_WIRES ? pick->n_contenders : THRUM_MAX_WIRES;
}

static void add_contenders(struct words *words, const struct scene *scene, bool chances)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int shown = contender_count(pick) < 6 ? contender_count(pick) : 6;
    for (int i = 0; i < shown; i++) {
        const struct thrum_wire_rank *rank = seen_rank(pick, pick->contenders[i]);
        words_add(words, "%s%s",
                  i == 0    ? ""
                  : chances ? ", "
                            : " ",
                  words_tag(scene->snapshot, pick->contenders[i]));
        if (chances && rank) {
            words_add(words, " (");
            words_chance(words, rank->chance);
            words_add(words, ")");
        }
    }
    if (contender_count(pick) > shown)
        words_add(words, chances ? " and %d more" : " +%d", contender_count(pick) - shown);
}

/* Where halves are searched: how far it has got. Many names are no news. */
static void add_search(struct words *words, const struct scene *scene)
{
    static const int FEW = 3;
    int n = contender_count(seen_pick(scene));
    if (n > FEW) {
        words_add(words, "NO PICK YET: one of %d wires", n);
        return;
    }
    words_add(words, "NO PICK YET: likeliest ");
    add_contenders(words, scene, true);
}

/* The other sender that is strongest on the same wire, where that is why none is named; NULL where there is none. */
static const char *rival(const struct scene *scene, int *wire)
{
    int other = thrum_snapshot_rival(scene->snapshot, scene->sender, wire);
    bool told = seen_pick(scene)->notes & THRUM_NOTE_ONE_WIRE;
    return told && other >= 0 ? scene->snapshot->sender[other].name : NULL;
}

void words_verdict(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires, shared;
    if (pick && scene->snapshot->n_senders > 1 && !rival(scene, &shared))
        words_add(words, "Sender %s: ", scene->snapshot->sender[scene->sender].name);
    if (!pick || seen_untouched(scene)) {
        words_add(words, "NO PICK YET: no wire has been touched");
        return;
    }
    if (thrum_snapshot_silent(scene->snapshot)) {
        words_add(words, "NO SIGNAL AT ALL: digital silence on every touch");
        return;
    }
    thrum_snapshot_untouched(scene->snapshot, scene->sender, &n_wires);
    if (n_wires == 0) {
        words_add(words, "NO PICK: all wires are excluded");
        return;
    }
    switch (pick->outcome) {
    case THRUM_PICKED: {
        const struct thrum_wire_rank *second = runner_up(scene, pick);
        words_add(words, "PICK: wire %s, ", words_tag(scene->snapshot, pick->wire));
        words_chance(words, pick->chance);
        words_add(words, " sure");
        if (seen_caveat(scene) != THRUM_CAVEAT_NONE)
            words_add(words, ". %s", thrum_caveat_name(seen_caveat(scene)));
        else if (second && isfinite(pick->lead_db))
            words_add(words, ", %.1f dB %s %s", fabs(pick->lead_db), pick->lead_db < 0.0 ? "below" : "over",
                      words_tag(scene->snapshot, second->wire));
        return;
    }
    case THRUM_TOO_CLOSE:
        if (rival(scene, &shared)) {
            words_add(words, "TWO SENDERS ON ONE WIRE: %s is strongest for %s and %s",
                      words_tag(scene->snapshot, shared), scene->snapshot->sender[scene->sender].name,
                      rival(scene, &shared));
            return;
        }
        if (scene->snapshot->halves && scene->snapshot->n_readings > 0) {
            add_search(words, scene);
            return;
        }
        if (seen_early(scene, &touched, &n_wires)) {
            words_add(words, "NO PICK YET: %d of %d touched", touched, n_wires);
            return;
        }
        words_add(words, "TOO CLOSE: ");
        add_contenders(words, scene, true);
        return;
    case THRUM_NO_TONE:
        words_add(words, "NO TONE: the sender is heard on no wire%s",
                  pick->notes & THRUM_NOTE_LEFT_OUT ? " that may be it" : "");
        return;
    case THRUM_EVERYWHERE:
        words_add(words, "EVERYWHERE: nearly all wires carry the tone alike");
        return;
    }
}

static void add_narrow_pick(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    words_add(words, "PICK %s", words_tag(scene->snapshot, pick->wire));
    switch (seen_caveat(scene)) {
    case THRUM_CAVEAT_UNTRUSTED:
        words_add(words, "? UNTRUSTED");
        return;
    case THRUM_CAVEAT_LEFT_OUT:
        words_add(words, "? LOOK AGAIN");
        return;
    case THRUM_CAVEAT_COUNT:
        words_add(words, "? CHECK TAG");
        return;
    case THRUM_CAVEAT_NONE:
        words_add(words, " ");
        words_chance(words, pick->chance);
        return;
    }
}

void words_verdict_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires, shared;
    if (!pick || seen_untouched(scene)) {
        words_add(words, "NO PICK YET");
        return;
    }
    if (thrum_snapshot_silent(scene->snapshot)) {
        words_add(words, "NO SIGNAL");
        return;
    }
    switch (pick->outcome) {
    case THRUM_PICKED:
        add_narrow_pick(words, scene);
        return;
    case THRUM_TOO_CLOSE:
        if (rival(scene, &shared)) {
            words_add(words, "%s: ALSO %s", words_tag(scene->snapshot, shared), rival(scene, &shared));
            return;
        }
        if (scene->snapshot->halves) {
            words_add(words, "NO PICK: ONE OF %d", contender_count(pick));
            return;
        }
        if (seen_early(scene, &touched, &n_wires)) {
            words_add(words, "NO PICK YET %d/%d", touched, n_wires);
            return;
        }
        words_add(words, "CLOSE ");
        add_contenders(words, scene, false);
        return;
    case THRUM_NO_TONE:
        words_add(words, "NO TONE");
        return;
    case THRUM_EVERYWHERE:
        words_add(words, "EVERYWHERE");
        return;
    }
}

static void add_large_hold(struct words *words, const struct scene *scene)
{
    if (scene->snapshot->taken)
        words_add(words, "TAKEN");
    else if (scene->snapshot->enough)
        words_add(words, "ENOUGH");
    else
        words_add(words, "HOLD %d S", words_hold_s(scene));
}

void words_large_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    if (seen_holds_on(scene) && !scene->snapshot->taken && !scene->snapshot->enough)
        words_add(words, "%d S", words_hold_s(scene));
    else if (!seen_holds_on(scene) && pick && pick->outcome == THRUM_EVERYWHERE)
        words_add(words, "ALIKE");
    else
        words_large(words, scene);
}

void words_large(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires, wire = pick ? seen_to_touch(scene) : -1;
    if (scene->facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "LOST");
    else if (seen_holds_on(scene))
        add_large_hold(words, scene);
    else if (!pick || seen_untouched(scene) || seen_holds_group(scene))
        words_add(words, scene->snapshot->group ? "HOLD %s" : "TOUCH %s", scene->snapshot->current);
    else if (seen_early(scene, &touched, &n_wires))
        words_add(words, "TOUCH %s",
                  !seen_nameless(scene, wire) ? words_tag(scene->snapshot, wire)
                  : seen_current(scene) < 0   ? scene->snapshot->current
                                              : "MORE");
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "PICK %s%s", words_tag(scene->snapshot, pick->wire),
                  seen_caveat(scene) == THRUM_CAVEAT_NONE ? "" : "?");
    else if (pick->outcome == THRUM_TOO_CLOSE)
        words_add(words, "CLOSE");
    else if (pick->outcome == THRUM_NO_TONE)
        words_add(words, "NO TONE");
    else
        words_add(words, "ALL ALIKE");
}

enum thrum_ink words_verdict_ink(const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires;
    if (!pick || seen_untouched(scene) || seen_early(scene, &touched, &n_wires))
        return THRUM_INK_TEXT;
    return pick->outcome == THRUM_PICKED && seen_caveat(scene) == THRUM_CAVEAT_NONE ? THRUM_INK_GOOD
                                                                                    : THRUM_INK_WARN;
}
