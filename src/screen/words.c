#include "screen/words.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void words_add(struct words *words, const char *format, ...)
{
    char piece[2 * WORDS_SIZE];
    size_t used = strlen(words->text);
    va_list list;
    va_start(list, format);
    int n = vsnprintf(piece, sizeof piece, format, list);
    va_end(list);
    if (n > 0)
        canvas_copy(words->text + used, sizeof words->text - used, piece);
}

const char *words_tag(const struct thrum_snapshot *snapshot, int wire)
{
    return wire >= 0 && wire < snapshot->n_wires ? snapshot->wire[wire] : "?";
}

void words_current(struct words *words, const struct thrum_snapshot *snapshot)
{
    const char *dash = snapshot->group ? strchr(snapshot->current, '-') : NULL;
    if (dash)
        words_add(words, "wires %.*s to %s", (int)(dash - snapshot->current), snapshot->current, dash + 1);
    else
        words_add(words, "wire %s", snapshot->current);
}

void words_touched(struct words *words, const struct thrum_snapshot *snapshot)
{
    int touches = 0;
    for (int i = 0; i < snapshot->n_readings && i < THRUM_MAX_READINGS; i++)
        touches += strcmp(snapshot->readings[i].wire, snapshot->current) == 0;
    if (touches > 0)
        words_add(words, touches == 1 ? "touched once" : "touched %d times", touches);
}

bool words_has_level(double dbfs)
{
    return isfinite(dbfs) && dbfs > THRUM_FLOOR_DBFS && dbfs < 100.0;
}

void words_level(struct words *words, double dbfs)
{
    if (words_has_level(dbfs))
        words_add(words, "%.1f", dbfs);
    else
        words_add(words, "--");
}

void words_chance(struct words *words, double chance)
{
    if (!(chance >= 0.0))
        words_add(words, "?");
    else if (chance >= 0.9999)
        words_add(words, ">99.9 %%");
    else if (chance < 0.001)
        words_add(words, "<0.1 %%");
    else
        words_add(words, "%.1f %%", floor(chance * 1000.0 + 1e-6) / 10.0);
}

void words_time(struct words *words, double seconds)
{
    if (!(seconds >= 0.0 && seconds < 1e9))
        seconds = 0.0;
    long s = (long)seconds;
    if (s >= 3600)
        words_add(words, "%ld:%02ld:%02ld", s / 3600, s / 60 % 60, s % 60);
    else
        words_add(words, "%ld:%02ld", s / 60, s % 60);
}

bool words_excluded(const struct scene *scene, int wire)
{
    return wire >= 0 && wire < scene->snapshot->n_wires && wire < THRUM_MAX_WIRES &&
           scene->snapshot->excluded[wire];
}

void words_rest(struct words *words, int more, int untouched)
{
    if (more > 0)
        words_add(words, "%d more touched", more);
    if (untouched > 0)
        words_add(words, "%s%d not touched", more > 0 ? ", " : "", untouched);
}

/* --- The scene -------------------------------------------------------------------------------------------- */

static const struct thrum_strength *strength_so_far(const struct scene *scene)
{
    const struct thrum_reading *reading = &scene->snapshot->so_far;
    if (!scene->snapshot->touching || reading->frames == 0 || scene->sender < 0)
        return NULL;
    return &reading->strength[scene->sender];
}

bool words_no_sound(const struct scene *scene)
{
    return scene->facts->input_state != THRUM_INPUT_LIVE;
}

bool words_not_open(const struct scene *scene)
{
    return scene->facts->input_state == THRUM_INPUT_WAIT && !(scene->snapshot->rate_hz > 0.0);
}

static double level_of(const struct scene *scene)
{
    if (words_no_sound(scene) || scene->sender < 0)
        return THRUM_FLOOR_DBFS;
    const struct thrum_strength *strength = strength_so_far(scene);
    return strength && strength->heard ? strength->dbfs : scene->snapshot->now.steady_dbfs[scene->sender];
}

struct scene scene_of(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                      int sender)
{
    struct scene scene = {.snapshot = snapshot, .facts = facts, .sender = sender < 0 ? 0 : sender};
    int n = snapshot->n_senders < THRUM_MAX_SENDERS ? snapshot->n_senders : THRUM_MAX_SENDERS;
    if (scene.sender >= n)
        scene.sender = n - 1;
    scene.dbfs = level_of(&scene);
    return scene;
}

/* --- The touch in progress ------------------------------------------------------------------------------- */

static bool no_more_sound(const struct scene *scene)
{
    return scene->facts->input_state == THRUM_INPUT_LOST || scene->facts->input_state == THRUM_INPUT_ENDED;
}

static void add_rest(struct words *words, const struct scene *scene)
{
    words_add(words, "No touch: rest the probe on ");
    words_current(words, scene->snapshot);
}

static void add_idle(struct words *words, const struct scene *scene)
{
    if (words_not_open(scene))
        words_add(words, "The input is looked for every 2 s");
    else if (scene->snapshot->finished)
        words_add(words, "The round is over");
    else if (scene->facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "No sound: the touch waits for the input");
    else if (scene->facts->input_state == THRUM_INPUT_ENDED)
        words_add(words, "The sound has ended");
    else if (scene->facts->hands_free && !(scene->snapshot->now.mains_hz > 0.0))
        words_add(words, "No hum that tells touches%s",
                  scene->facts->no_keys ? "" : ": space begins and ends one");
    else if (scene->facts->hands_free)
        add_rest(words, scene);
    else
        words_add(words, "No touch: space begins one");
}

/* Whole seconds, so that the figure can be read at a glance; at least one while there is something to wait for. */
int words_hold_s(const struct scene *scene)
{
    double s = ceil(scene->snapshot->hold_s);
    return s >= 1.0 && s < 1000.0 ? (int)s : 1;
}

static void add_interval(struct words *words, const struct thrum_strength *strength)
{
    if (strength && strength->heard) {
        words_add(words, ": ");
        words_level(words, strength->low_db);
        words_add(words, " to ");
        words_level(words, strength->high_db);
        words_add(words, " dBFS");
    } else if (strength && words_has_level(strength->high_db)) {
        words_add(words, ": not heard, below %.1f", strength->high_db);
    }
}

static void add_why_enough(struct words *words, const struct scene *scene)
{
    const struct thrum_strength *strength = strength_so_far(scene);
    if (scene->snapshot->hold == THRUM_HOLD_WEAKER)
        words_add(words, ", far weaker than the best");
    else if (scene->snapshot->hold == THRUM_HOLD_HOPELESS && strength && strength->heard)
        words_add(words, ", no better by waiting");
    else
        add_interval(words, strength);
}

void words_touch(struct words *words, const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    const struct thrum_strength *strength = strength_so_far(scene);
    if (!snapshot->touching || snapshot->finished || no_more_sound(scene)) {
        add_idle(words, scene);
        return;
    }
    if (snapshot->taken) {
        words_add(words, "TAKEN: lift the probe, next %s ", snapshot->group ? "are" : "is");
        words_current(words, snapshot);
        return;
    }
    if (!snapshot->enough) {
        words_add(words, "HOLD ON %d s more", words_hold_s(scene));
        add_interval(words, strength);
        return;
    }
    words_add(words, "ENOUGH");
    add_why_enough(words, scene);
    words_add(words, scene->facts->hands_free ? ", lift the probe" : ", press space");
}

void words_touch_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    const struct thrum_strength *strength = strength_so_far(scene);
    if (words_not_open(scene)) {
        words_add(words, "no input yet");
    } else if (snapshot->finished) {
        words_add(words, "over");
    } else if (no_more_sound(scene)) {
        words_add(words, "no sound");
    } else if (!snapshot->touching) {
        words_add(words, scene->facts->hands_free ? "rest probe" : "press space");
    } else {
        if (snapshot->taken)
            words_add(words, "TAKEN");
        else if (snapshot->enough)
            words_add(words, "ENOUGH");
        else
            words_add(words, "HOLD %d s", words_hold_s(scene));
        if (!scene->facts->practice && strength && strength->heard && words_has_level(strength->low_db) &&
            words_has_level(strength->high_db))
            words_add(words, " +-%.1f", (strength->high_db - strength->low_db) / 2.0);
    }
}

/* --- The input ------------------------------------------------------------------------------------------- */

/* RMS with all harmonics; what comes in without touching a thing is 10 to 20 dB less. Common practice, no source. */
#define HUM_HIGH_DBFS (-18.0)

static bool hum_is_taken_out(const struct thrum_now *now)
{
    return now->hum_removed_db > 0.05 && now->hum_removed_db < 200.0;
}

void words_hum(struct words *words, const struct scene *scene)
{
    const struct thrum_now *now = &scene->snapshot->now;
    if (words_no_sound(scene)) {
        words_add(words, "Hum: --");
        return;
    }
    if (!words_has_level(now->hum_dbfs) || !(now->mains_hz > 0.0)) {
        words_add(words, "Hum: none");
        return;
    }
    bool high = now->hum_dbfs > HUM_HIGH_DBFS; /* in few words: what to do must fit into the row as well */
    words_add(words, high ? "Hum HIGH: %.1f dBFS, %.2f Hz" : "Hum %.1f dBFS at %.2f Hz", now->hum_dbfs,
              now->mains_hz);
    if (hum_is_taken_out(now))
        words_add(words, high ? ", %.0f dB out" : ", %.0f dB taken out", now->hum_removed_db);
    if (high)
        words_add(words, "; unplug charger");
}

void words_hum_narrow(struct words *words, const struct scene *scene)
{
    const struct thrum_now *now = &scene->snapshot->now;
    bool high = now->hum_dbfs > HUM_HIGH_DBFS;
    words_add(words, high ? "Hum HIGH %.1f: unplug charger" : "Hum %.1f dBFS", now->hum_dbfs);
    if (!high && hum_is_taken_out(now))
        words_add(words, ", %.0f dB out", now->hum_removed_db);
}

static uint32_t faults_of(const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    uint32_t faults = snapshot->now.faults;
    if (snapshot->touching && snapshot->so_far.frames > 0)
        faults |= snapshot->so_far.faults & ~(uint32_t)THRUM_FAULT_TOO_SHORT;
    if (scene->facts->lost_frames > 0)
        faults |= THRUM_FAULT_LOST;
    return faults;
}

/* More names than that are not read. */
#define FAULTS_SAID 4

/* "lost 0.12 s": all that has been lost in the round; without a figure when nothing is counted. */
static void add_fault(struct words *words, const struct scene *scene, enum thrum_fault fault)
{
    double lost_s = (double)scene->facts->lost_frames / scene->snapshot->rate_hz;
    words_add(words, "%s", thrum_fault_name(fault));
    if (fault == THRUM_FAULT_LOST && lost_s > 0.0 && lost_s < 1e9)
        words_add(words, lost_s < 0.1 ? " %.3f s" : " %.1f s", lost_s);
}

void words_fault_names(struct words *words, const struct scene *scene)
{
    uint32_t faults = faults_of(scene);
    int said = 0;
    for (int i = 0; i < THRUM_FAULTS && said < FAULTS_SAID; i++)
        if (faults & (1u << i) && thrum_fault_name((enum thrum_fault)(1u << i))) {
            words_add(words, said++ > 0 ? ", " : "Input: ");
            add_fault(words, scene, (enum thrum_fault)(1u << i));
        }
}

void words_faults(struct words *words, const struct scene *scene)
{
    uint32_t faults = faults_of(scene);
    words_fault_names(words, scene);
    for (int i = 0; i < THRUM_FAULTS; i++)
        if (faults & (1u << i) && thrum_fault_advice((enum thrum_fault)(1u << i))) {
            words_add(words, ". %s", thrum_fault_advice((enum thrum_fault)(1u << i)));
            return;
        }
}

void words_input_name(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    words_add(words, "%s%s", facts->practice ? "PRACTICE " : "", facts->input[0] ? facts->input : "input");
}

void words_input(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    const struct thrum_snapshot *snapshot = scene->snapshot;
    words_input_name(words, scene);
    if (facts->live || !(snapshot->rate_hz > 0.0))
        return;
    words_add(words, "  ");
    words_time(words, (double)snapshot->now.frames / snapshot->rate_hz);
    if (facts->length_s > 0.0) {
        words_add(words, " of ");
        words_time(words, facts->length_s);
    }
}

void words_message(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    if (facts->message[0])
        words_add(words, "%s", facts->message);
    else if (facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "INPUT LOST - check its plug");
    else if (facts->record == THRUM_RECORD_FAILED)
        words_add(words, "NOT RECORDING");
    else if (facts->moved[0])
        words_add(words, "SENDER MOVED%s: %s", facts->no_keys ? "" : " (m)", facts->moved);
}

void words_recording(struct words *words, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    switch (facts->record) {
    case THRUM_RECORD_OFF:
        words_add(words, "not recording");
        return;
    case THRUM_RECORD_ON:
        words_add(words, "recording ");
        break;
    case THRUM_RECORD_FAILED:
        words_add(words, "RECORDING STOPPED at ");
        break;
    }
    words_time(words, facts->recorded_s);
}

void words_recording_narrow(struct words *words, const struct scene *scene)
{
    switch (scene->facts->record) {
    case THRUM_RECORD_OFF:
        words_add(words, "no rec");
        return;
    case THRUM_RECORD_ON:
        words_add(words, "rec ");
        break;
    case THRUM_RECORD_FAILED:
        words_add(words, "REC STOPPED ");
        break;
    }
    words_time(words, scene->facts->recorded_s);
}

enum thrum_ink words_recording_ink(const struct scene *scene)
{
    switch (scene->facts->record) {
    case THRUM_RECORD_OFF:
        return THRUM_INK_DIM;
    case THRUM_RECORD_ON:
        return THRUM_INK_STRONG;
    case THRUM_RECORD_FAILED:
        break;
    }
    return THRUM_INK_ALARM;
}

void words_other_senders(struct words *words, const struct scene *scene)
{
    for (int i = 0; i < scene->snapshot->n_senders && i < THRUM_MAX_SENDERS; i++) {
        if (i == scene->sender)
            continue;
        struct scene other = *scene;
        struct words verdict = {.text = ""};
        other.sender = i;
        words_verdict_narrow(&verdict, &other);
        words_add(words, "%s%s: %s", words->text[0] ? "   " : "Sender ", scene->snapshot->sender[i].name,
                  verdict.text);
    }
}
