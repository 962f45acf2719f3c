/* The part of the words that speaks of the pick. */
#include <math.h>
#include <string.h>

#include "screen/words.h"

static const struct thrum_pick *pick_of(const struct scene *scene)
{
    return scene->sender < 0 ? NULL : &scene->snapshot->pick[scene->sender];
}

static bool untouched(const struct scene *scene)
{
    return scene->sender < 0 || scene->snapshot->n_readings == 0;
}

/* Wires are left that may carry more: too close is no news yet. */
static bool early(const struct scene *scene, int *touched, int *n_wires)
{
    int left = thrum_snapshot_untouched(scene->snapshot, scene->sender, n_wires);
    *touched = *n_wires - left;
    return left > 0 && pick_of(scene)->outcome == THRUM_TOO_CLOSE;
}

static enum thrum_caveat caveat_of(const struct scene *scene)
{
    return thrum_snapshot_caveat(scene->snapshot, scene->sender);
}

static int ranked(const struct thrum_pick *pick)
{
    return pick->n_ranked < THRUM_MAX_WIRES ? pick->n_ranked : THRUM_MAX_WIRES;
}

static const struct thrum_wire_rank *rank_of(const struct thrum_pick *pick, int wire)
{
    for (int i = 0; i < ranked(pick); i++)
        if (pick->rank[i].wire == wire)
            return &pick->rank[i];
    return NULL;
}

/* The best of the others that has been touched and may be it. */
static const struct thrum_wire_rank *runner_up(const struct scene *scene, const struct thrum_pick *pick)
{
    const struct thrum_wire_rank *best = NULL;
    for (int i = 0; i < ranked(pick); i++) {
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
    const struct thrum_pick *pick = pick_of(scene);
    int shown = contender_count(pick) < 6 ? contender_count(pick) : 6;
    for (int i = 0; i < shown; i++) {
        const struct thrum_wire_rank *rank = rank_of(pick, pick->contenders[i]);
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
    int n = contender_count(pick_of(scene));
    if (n > FEW) {
        words_add(words, "NO PICK YET: one of %d wires", n);
        return;
    }
    words_add(words, "NO PICK YET: likeliest ");
    add_contenders(words, scene, true);
}

/* The other sender that is strongest on the same wire; NULL where there is none. */
static const char *rival(const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    const struct thrum_pick *pick = pick_of(scene);
    if (!(pick->notes & THRUM_NOTE_ONE_WIRE))
        return NULL;
    for (int i = 0; i < snapshot->n_senders && i < THRUM_MAX_SENDERS; i++)
        if (i != scene->sender && snapshot->pick[i].notes & THRUM_NOTE_ONE_WIRE &&
            snapshot->pick[i].rank[0].wire == pick->rank[0].wire)
            return snapshot->sender[i].name;
    return NULL;
}

void words_verdict(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (pick && scene->snapshot->n_senders > 1 && !rival(scene))
        words_add(words, "Sender %s: ", scene->snapshot->sender[scene->sender].name);
    if (!pick || untouched(scene)) {
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
        if (caveat_of(scene) != THRUM_CAVEAT_NONE)
            words_add(words, ". %s", thrum_caveat_name(caveat_of(scene)));
        else if (second && isfinite(pick->lead_db))
            words_add(words, ", %.1f dB %s %s", fabs(pick->lead_db), pick->lead_db < 0.0 ? "below" : "over",
                      words_tag(scene->snapshot, second->wire));
        return;
    }
    case THRUM_TOO_CLOSE:
        if (rival(scene)) {
            words_add(words, "TWO SENDERS ON ONE WIRE: %s is strongest for %s and %s",
                      words_tag(scene->snapshot, pick->rank[0].wire),
                      scene->snapshot->sender[scene->sender].name, rival(scene));
            return;
        }
        if (scene->snapshot->halves && scene->snapshot->n_readings > 0) {
            add_search(words, scene);
            return;
        }
        if (early(scene, &touched, &n_wires)) {
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
    const struct thrum_pick *pick = pick_of(scene);
    words_add(words, "PICK %s", words_tag(scene->snapshot, pick->wire));
    switch (caveat_of(scene)) {
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
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (!pick || untouched(scene)) {
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
        if (rival(scene)) {
            words_add(words, "%s: ALSO %s", words_tag(scene->snapshot, pick->rank[0].wire), rival(scene));
            return;
        }
        if (scene->snapshot->halves) {
            words_add(words, "NO PICK: ONE OF %d", contender_count(pick));
            return;
        }
        if (early(scene, &touched, &n_wires)) {
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

/* Index of the current wire, or -1. */
static int current_wire(const struct scene *scene)
{
    for (int i = 0; i < scene->snapshot->n_wires && i < THRUM_MAX_WIRES; i++)
        if (strcmp(scene->snapshot->wire[i], scene->snapshot->current) == 0)
            return i;
    return -1;
}

/* The touch that helps most, or -1. While wires are left, the current one when it is such: the hand goes on in order. */
static int wire_to_touch(const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (pick->outcome != THRUM_TOO_CLOSE)
        return -1;
    if (!scene->snapshot->halves && early(scene, &touched, &n_wires)) {
        const struct thrum_wire_rank *rank = rank_of(pick, current_wire(scene));
        if (rank && rank->touches == 0)
            return rank->wire;
    }
    return pick->next_touch;
}

/* The current tag is a group that is to be held next. */
static bool holds_group(const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    return scene->snapshot->group && (!pick || pick->outcome != THRUM_PICKED);
}

static bool holds_on(const struct scene *scene)
{
    return scene->facts->input_state != THRUM_INPUT_LOST && scene->snapshot->touching &&
           !scene->snapshot->finished;
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
    const struct thrum_pick *pick = pick_of(scene);
    if (holds_on(scene) && !scene->snapshot->taken && !scene->snapshot->enough)
        words_add(words, "%d S", words_hold_s(scene));
    else if (!holds_on(scene) && pick && pick->outcome == THRUM_EVERYWHERE)
        words_add(words, "ALIKE");
    else
        words_large(words, scene);
}

void words_large(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (scene->facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "LOST");
    else if (holds_on(scene))
        add_large_hold(words, scene);
    else if (!pick || untouched(scene) || holds_group(scene))
        words_add(words, scene->snapshot->group ? "HOLD %s" : "TOUCH %s", scene->snapshot->current);
    else if (early(scene, &touched, &n_wires))
        words_add(words, "TOUCH %s", words_tag(scene->snapshot, wire_to_touch(scene)));
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "PICK %s%s", words_tag(scene->snapshot, pick->wire),
                  caveat_of(scene) == THRUM_CAVEAT_NONE ? "" : "?");
    else if (pick->outcome == THRUM_TOO_CLOSE)
        words_add(words, "CLOSE");
    else if (pick->outcome == THRUM_NO_TONE)
        words_add(words, "NO TONE");
    else
        words_add(words, "ALL ALIKE");
}

enum thrum_ink words_verdict_ink(const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (!pick || untouched(scene) || early(scene, &touched, &n_wires))
        return THRUM_INK_TEXT;
    return pick->outcome == THRUM_PICKED && caveat_of(scene) == THRUM_CAVEAT_NONE ? THRUM_INK_GOOD
                                                                                  : THRUM_INK_WARN;
}

/* What is to be changed before any more touches tell. */
static const char *first_note(const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    uint32_t notes = THRUM_NOTE_CHECK_SENDER | THRUM_NOTE_LIFT_COMMON | THRUM_NOTE_STUCK;
    if (pick->outcome == THRUM_NO_TONE)
        notes |= THRUM_NOTE_LEFT_OUT;
    for (int i = 0; i < THRUM_PICK_NOTES; i++)
        if (pick->notes & notes & (1u << i))
            return thrum_pick_note_text((enum thrum_pick_note)(1u << i));
    return NULL;
}

/* The current tag is what helps most, as the round follows its own advice. */
static void add_group_step(struct words *words, const struct scene *scene)
{
    words_add(words, "Hold the probe against ");
    words_current(words, scene->snapshot);
    words_add(words, ", the %sothers apart.", scene->snapshot->group_left_out ? "excluded and the " : "");
}

static void add_first_step(struct words *words, const struct scene *scene)
{
    if (holds_on(scene))
        words_add(words, "Hold the probe still on wire %s.", scene->snapshot->current);
    else if (scene->facts->hands_free)
        words_add(words, "Rest the probe on wire %s, then on the next ones.", scene->snapshot->current);
    else
        words_add(words, "Put the probe on wire %s and press space.", scene->snapshot->current);
}

/* What to do before a doubtful pick may be written down. */
static void add_doubtful_step(struct words *words, const struct scene *scene)
{
    if (caveat_of(scene) == THRUM_CAVEAT_LEFT_OUT)
        words_add(words, "An excluded wire carries more tone: look at the sender's clip, lift the common.");
    else if (caveat_of(scene) == THRUM_CAVEAT_COUNT)
        words_add(words, "Touches may be miscounted: touch wire %s again by its tag.",
                  words_tag(scene->snapshot, pick_of(scene)->wire));
    else
        words_add(words, "Switch level control, gate and noise suppression off, and begin again.");
}

/* Where the input is lost nothing else can be done; where the sender is not where it is looked for, not much. */
static bool add_urgent_step(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    if (scene->snapshot->finished)
        return false;
    if (facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "Plug the input in again: the touches are kept.%s",
                  facts->no_keys ? "" : " i looks at once, or takes another input.");
    else if (facts->moved[0])
        words_add(words, "m measures the sender where it is, the touches of the last minute too.");
    return words->text[0] != 0;
}

static bool add_urgent_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    if (scene->snapshot->finished)
        return false;
    if (facts->input_state == THRUM_INPUT_LOST)
        words_add(words, facts->no_keys ? "plug it in" : "plug it in, or i");
    else if (facts->moved[0])
        words_add(words, "moved: m follows it");
    return words->text[0] != 0;
}

void words_next(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    if (add_urgent_step(words, scene))
        return;
    if (!pick || untouched(scene)) {
        if (words_not_open(scene))
            words_add(words, "Any key looks for the input at once, q leaves.");
        else if (scene->snapshot->finished)
            words_add(words, "Nothing was touched; q leaves.");
        else if (scene->snapshot->group)
            add_group_step(words, scene);
        else
            add_first_step(words, scene);
        return;
    }
    const char *note = first_note(scene);
    int wire = wire_to_touch(scene);
    const struct thrum_wire_rank *rank = wire >= 0 ? rank_of(pick, wire) : NULL;
    if (thrum_snapshot_silent(scene->snapshot))
        words_add(words, "%s", thrum_fault_advice(THRUM_FAULT_SILENT));
    else if (holds_group(scene))
        add_group_step(words, scene);
    else if (pick->outcome == THRUM_PICKED && caveat_of(scene) != THRUM_CAVEAT_NONE)
        add_doubtful_step(words, scene);
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "Write it down: wire %s.%s", words_tag(scene->snapshot, pick->wire),
                  scene->snapshot->finished ? "" : " Then f finishes the round.");
    else if (wire >= 0)
        words_add(words, "Touch wire %s%s.", words_tag(scene->snapshot, wire),
                  rank && rank->touches ? " again" : "");
    else if (note)
        words_add(words, "%s", note);
    else
        words_add(words, "Touch more wires, or finish with f.");
}

void words_next_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    if (words_not_open(scene)) {
        words_add(words, "any key looks again");
        return;
    }
    if (add_urgent_narrow(words, scene))
        return;
    if (!pick || untouched(scene) || holds_group(scene)) {
        words_add(words, scene->snapshot->group ? "hold %s" : "touch %s", scene->snapshot->current);
        return;
    }
    int wire = wire_to_touch(scene);
    if (thrum_snapshot_silent(scene->snapshot))
        words_add(words, "check the input");
    else if (pick->outcome == THRUM_PICKED && caveat_of(scene) == THRUM_CAVEAT_COUNT)
        words_add(words, "touch %s again", words_tag(scene->snapshot, pick->wire));
    else if (pick->outcome == THRUM_PICKED && caveat_of(scene) == THRUM_CAVEAT_UNTRUSTED)
        words_add(words, "mend the input");
    else if (pick->outcome == THRUM_PICKED && caveat_of(scene) == THRUM_CAVEAT_LEFT_OUT)
        words_add(words, "check the clip");
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "write it down");
    else if (wire >= 0)
        words_add(words, "touch %s next", words_tag(scene->snapshot, wire));
    else if (pick->outcome == THRUM_NO_TONE)
        words_add(words, pick->notes & THRUM_NOTE_LEFT_OUT ? "check the clip" : "check the sender");
    else if (pick->outcome == THRUM_EVERYWHERE)
        words_add(words, "lift the common");
    else
        words_add(words, pick->notes & THRUM_NOTE_STUCK ? "lift one away" : "touch more wires");
}

/* Most pressing first; what the next step says already is left out. */
static const enum thrum_pick_note note_order[] = {
    THRUM_NOTE_CHECK_SENDER, THRUM_NOTE_LIFT_COMMON, THRUM_NOTE_UNTRUSTED, THRUM_NOTE_ONE_WIRE,
    THRUM_NOTE_LEFT_OUT,     THRUM_NOTE_TWO_EQUAL,   THRUM_NOTE_RETURN,    THRUM_NOTE_TAKEN,
    THRUM_NOTE_SAGGING,      THRUM_NOTE_STUCK,       THRUM_NOTE_UNTOUCHED,
};

/* The verdict or the next step says it already. */
static bool is_said(const struct scene *scene, enum thrum_pick_note note)
{
    const struct thrum_pick *pick = pick_of(scene);
    int touched, n_wires;
    if (note == THRUM_NOTE_UNTOUCHED && early(scene, &touched, &n_wires))
        return true;
    if (pick->outcome != THRUM_PICKED)
        return wire_to_touch(scene) < 0 && thrum_pick_note_text(note) == first_note(scene);
    return (note == THRUM_NOTE_UNTRUSTED && caveat_of(scene) == THRUM_CAVEAT_UNTRUSTED) ||
           (note == THRUM_NOTE_LEFT_OUT && caveat_of(scene) == THRUM_CAVEAT_LEFT_OUT);
}

const char *words_note(const struct scene *scene, int number)
{
    const struct thrum_pick *pick = pick_of(scene);
    if (!pick || untouched(scene) || thrum_snapshot_silent(scene->snapshot))
        return NULL;
    for (size_t i = 0; i < sizeof note_order / sizeof note_order[0]; i++) {
        const char *text = pick->notes & (uint32_t)note_order[i] ? thrum_pick_note_text(note_order[i]) : NULL;
        if (!text || is_said(scene, note_order[i]))
            continue;
        if (number-- == 0)
            return text;
    }
    return NULL;
}
