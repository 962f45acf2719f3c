/* The part of the words that says what to do next. */
#include "screen/seen.h"
#include "screen/words.h"

/* What is to be changed before any more touches tell. */
static const char *first_note(const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
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

/* The wire that may still be touched, where a key can say so; else NULL. */
static const char *wire_before(const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    return snapshot->may_be_again && !scene->facts->no_keys
               ? snapshot->readings[snapshot->n_readings - 1].wire
               : NULL;
}

/* The touch that is asked for is in progress. */
static void add_hold_step(struct words *words, const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    if (wire_before(scene))
        words_add(words, "Hold still on wire %s; if it is wire %s still, press r.", snapshot->current,
                  wire_before(scene));
    else if (!snapshot->enough)
        words_add(words, "Hold the probe still on wire %s.", snapshot->current);
    else if (scene->facts->hands_free)
        words_add(words, "Lift the probe, then rest it on the next wire.");
    else
        words_add(words, "Press space, then put the probe on the next wire.");
}

static void add_first_step(struct words *words, const struct scene *scene)
{
    if (seen_holds_on(scene))
        add_hold_step(words, scene);
    else if (scene->facts->hands_free)
        words_add(words, "Rest the probe on wire %s, then on the next ones.", scene->snapshot->current);
    else
        words_add(words, "Put the probe on wire %s and press space.", scene->snapshot->current);
}

/* What to do before a doubtful pick may be written down. */
static void add_doubtful_step(struct words *words, const struct scene *scene)
{
    if (seen_caveat(scene) == THRUM_CAVEAT_LEFT_OUT)
        words_add(words, "An excluded wire carries more tone: look at the sender's clip, lift the common.");
    else if (seen_caveat(scene) == THRUM_CAVEAT_COUNT)
        words_add(words, "Touches may be miscounted: touch wire %s again by its tag.",
                  words_tag(scene->snapshot, seen_pick(scene)->wire));
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

/* Nobody has said how many wires there are, and the next touch counts as that of a new one. */
static bool goes_on(const struct scene *scene)
{
    return seen_current(scene) < 0 && !scene->facts->no_keys && !scene->snapshot->finished;
}

/* It is told how many wires there are, and the next touch is of one that has no tag yet: the current one, if that is new. */
static void add_new_wire(struct words *words, const struct scene *scene)
{
    if (seen_current(scene) < 0)
        words_add(words, "Touch wire %s.", scene->snapshot->current);
    else
        words_add(words, "Touch a wire that has not been touched yet.");
}

/* The probe is on the wire to touch, or on a new one where that has no tag yet. */
static bool is_doing(const struct scene *scene, int wire)
{
    int current = seen_current(scene);
    bool asked = seen_all_again(scene) || (wire >= 0 && current == wire) ||
                 (current < 0 && seen_nameless(scene, wire));
    return asked && seen_holds_on(scene) && !scene->snapshot->taken;
}

void words_next(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    if (add_urgent_step(words, scene))
        return;
    if (!pick || seen_untouched(scene)) {
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
    int wire = seen_to_touch(scene);
    const struct thrum_wire_rank *rank = wire >= 0 ? seen_rank(pick, wire) : NULL;
    if (thrum_snapshot_silent(scene->snapshot))
        words_add(words, "%s", thrum_fault_advice(THRUM_FAULT_SILENT));
    else if (seen_holds_group(scene))
        add_group_step(words, scene);
    else if (is_doing(scene, wire))
        add_hold_step(words, scene);
    else if (seen_all_again(scene))
        words_add(words, "Touch wire %s, then the others in order; or f finishes.", scene->snapshot->current);
    else if (pick->outcome == THRUM_PICKED && seen_caveat(scene) != THRUM_CAVEAT_NONE)
        add_doubtful_step(words, scene);
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "Write it down: wire %s.%s", words_tag(scene->snapshot, pick->wire),
                  scene->snapshot->finished ? "" : " Then f finishes the round.");
    else if (seen_nameless(scene, wire))
        add_new_wire(words, scene);
    else if (wire >= 0 && goes_on(scene))
        words_add(words, "Go on with wire %s, or touch %s again: type its tag first.",
                  scene->snapshot->current, words_tag(scene->snapshot, wire));
    else if (wire >= 0)
        words_add(words, "Touch wire %s%s.", words_tag(scene->snapshot, wire),
                  rank && rank->touches ? " again" : "");
    else if (note)
        words_add(words, "%s", note);
    else
        words_add(words, "Touch more wires, or finish with f.");
}

static void add_hold_narrow(struct words *words, const struct scene *scene)
{
    if (wire_before(scene))
        words_add(words, "r if still on %s", wire_before(scene));
    else if (!scene->snapshot->enough)
        words_add(words, "hold still");
    else
        words_add(words, scene->facts->hands_free ? "lift, then next wire" : "space, then next");
}

void words_next_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_pick *pick = seen_pick(scene);
    if (words_not_open(scene)) {
        words_add(words, "any key looks again");
        return;
    }
    if (add_urgent_narrow(words, scene))
        return;
    if (!pick || seen_untouched(scene) || seen_holds_group(scene)) {
        if (seen_holds_on(scene) && !scene->snapshot->group)
            add_hold_narrow(words, scene);
        else
            words_add(words, scene->snapshot->group ? "hold %s" : "touch %s", scene->snapshot->current);
        return;
    }
    int wire = seen_to_touch(scene);
    if (thrum_snapshot_silent(scene->snapshot))
        words_add(words, "check the input");
    else if (is_doing(scene, wire))
        add_hold_narrow(words, scene);
    else if (seen_all_again(scene))
        words_add(words, "touch %s", scene->snapshot->current);
    else if (pick->outcome == THRUM_PICKED && seen_caveat(scene) == THRUM_CAVEAT_COUNT)
        words_add(words, "touch %s again", words_tag(scene->snapshot, pick->wire));
    else if (pick->outcome == THRUM_PICKED && seen_caveat(scene) == THRUM_CAVEAT_UNTRUSTED)
        words_add(words, "mend the input");
    else if (pick->outcome == THRUM_PICKED && seen_caveat(scene) == THRUM_CAVEAT_LEFT_OUT)
        words_add(words, "check the clip");
    else if (pick->outcome == THRUM_PICKED)
        words_add(words, "write it down");
    else if (seen_nameless(scene, wire))
        words_add(words, "touch %s", seen_current(scene) < 0 ? scene->snapshot->current : "a new wire");
    else if (wire >= 0 && goes_on(scene))
        words_add(words, "touch %s, or %s", scene->snapshot->current, words_tag(scene->snapshot, wire));
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
    const struct thrum_pick *pick = seen_pick(scene);
    int touched, n_wires;
    if (note == THRUM_NOTE_UNTOUCHED && seen_early(scene, &touched, &n_wires))
        return true;
    if (pick->outcome != THRUM_PICKED)
        return seen_to_touch(scene) < 0 && thrum_pick_note_text(note) == first_note(scene);
    return (note == THRUM_NOTE_UNTRUSTED && seen_caveat(scene) == THRUM_CAVEAT_UNTRUSTED) ||
           (note == THRUM_NOTE_LEFT_OUT && seen_caveat(scene) == THRUM_CAVEAT_LEFT_OUT);
}

const char *words_note(const struct scene *scene, int number)
{
    const struct thrum_pick *pick = seen_pick(scene);
    if (!pick || seen_untouched(scene) || thrum_snapshot_silent(scene->snapshot))
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
