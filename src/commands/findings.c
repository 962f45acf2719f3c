#include "commands/findings.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "signal/voiceset.h"

struct findings *findings_create(void)
{
    return calloc(1, sizeof(struct findings));
}

void findings_destroy(struct findings *findings)
{
    if (!findings)
        return;
    for (int i = 0; i < THRUM_MAX_READINGS; i++)
        free(findings->source[i]);
    free(findings->warning);
    free(findings);
}

static struct finding_warning *room_for_warning(struct findings *findings)
{
    if (findings->n_warnings == findings->warnings_room) {
        int room = findings->warnings_room + 16;
        struct finding_warning *more = realloc(findings->warning, sizeof *more * (size_t)room);
        if (!more)
            return NULL;
        findings->warning = more;
        findings->warnings_room = room;
    }
    return &findings->warning[findings->n_warnings];
}

void findings_warn(struct findings *findings, const char *code, const char *format, ...)
{
    struct finding_warning *warning = room_for_warning(findings);
    if (!warning)
        return;
    va_list list;
    va_start(list, format);
    vsnprintf(warning->text, sizeof warning->text, format, list);
    va_end(list);
    warning->code = code;
    for (int i = 0; i < findings->n_warnings; i++)
        if (strcmp(findings->warning[i].code, code) == 0 &&
            strcmp(findings->warning[i].text, warning->text) == 0)
            return;
    findings->n_warnings++;
}

void findings_source(struct findings *findings, int first_reading, int end_reading, const char *name)
{
    for (int i = first_reading; i < end_reading && i < THRUM_MAX_READINGS; i++) {
        free(findings->source[i]);
        findings->source[i] = strdup(name);
    }
}

/* Which wires' readings have the fault: "w01, w02 and 3 more". */
static void wires_with(const struct thrum_snapshot *snapshot, uint32_t fault, char *text, size_t size)
{
    int shown = 0, more = 0;
    const char *last = "";
    text[0] = 0;
    for (int i = 0; i < snapshot->n_readings; i++) {
        const struct thrum_reading *reading = &snapshot->readings[i];
        if (!(reading->faults & fault) || strcmp(reading->wire, last) == 0)
            continue;
        last = reading->wire;
        if (shown < 6) {
            size_t used = strlen(text);
            snprintf(text + used, size - used, "%s%s", shown ? ", " : "", reading->wire);
            shown++;
        } else {
            more++;
        }
    }
    if (more > 0) {
        size_t used = strlen(text);
        snprintf(text + used, size - used, " and %d more", more);
    }
}

static void warn_of_faults(struct findings *findings)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    for (int i = 0; i < THRUM_FAULTS; i++) {
        char wires[THRUM_WIRE_TAG_SIZE * 8];
        const char *name = thrum_fault_name((enum thrum_fault)(1 << i));
        const char *advice = thrum_fault_advice((enum thrum_fault)(1 << i));
        wires_with(snapshot, 1u << i, wires, sizeof wires);
        if (wires[0] && name)
            findings_warn(findings, name, "%s (%s)", advice ? advice : name, wires);
    }
}

/* A square-wave sender sounds at the multiples of its tone too: a voice there hears it, on the wire of the other. */
static void warn_of_harmonics(struct findings *findings)
{
    static const int MOST = 11;
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    for (int a = 0; a < snapshot->n_senders; a++)
        for (int b = 0; b < snapshot->n_senders; b++)
            for (int k = 2; k <= MOST && a != b; k++) {
                const struct thrum_voice *low = &snapshot->sender[a], *high = &snapshot->sender[b];
                double off = fabs(k * low->tones_hz[0] - high->tones_hz[0]);
                if (off < THRUM_VOICESET_HARMONIC_HZ)
                    findings_warn(
                        findings, "harmonic",
                        "sender %s (%.0f Hz) lies %.0f Hz from %d times sender %s (%.0f Hz): if %s is "
                        "a square wave it is measured as %s too; use voices that are apart, as thrum "
                        "tone --set proposes them",
                        high->name, high->tones_hz[0], off, k, low->name, low->tones_hz[0], low->name,
                        high->name);
            }
}

/* A file that could not be read says nothing of the wires. */
static bool misses_a_file(const struct findings *findings)
{
    for (int i = 0; i < findings->n_warnings; i++)
        if (strcmp(findings->warning[i].code, "file") == 0)
            return true;
    return false;
}

/* Without a voice nothing can be heard; no tone can be stronger than what noise there was, or it would have been found. */
static void work_out_silence(struct findings *findings)
{
    struct thrum_snapshot *snapshot = &findings->snapshot;
    static const struct thrum_voice unknown = {.name = "a"};
    struct thrum_touch touch[THRUM_MAX_READINGS];
    memset(touch, 0, sizeof touch);
    for (int i = 0; i < snapshot->n_readings; i++) {
        struct thrum_reading *reading = &snapshot->readings[i];
        reading->n_senders = 1;
        reading->strength[0] = (struct thrum_strength){
            .dbfs = THRUM_FLOOR_DBFS, .low_db = THRUM_FLOOR_DBFS, .high_db = reading->noise_dbfs};
        touch[i].high_db = reading->noise_dbfs;
        touch[i].at_s = i;
        touch[i].faults = reading->faults;
        for (int w = 0; w < snapshot->n_wires; w++)
            if (strcmp(snapshot->wire[w], reading->wire) == 0)
                touch[i].wire = w;
    }
    struct thrum_pick_config config = thrum_pick_config_default();
    snapshot->n_senders = 1;
    snapshot->sender[0] = unknown;
    memset(&snapshot->pick[0], 0, sizeof snapshot->pick[0]);
    if (snapshot->n_readings == 0 && misses_a_file(findings)) {
        snapshot->pick[0].outcome = THRUM_TOO_CLOSE;
        snapshot->pick[0].wire = snapshot->pick[0].next_touch = -1;
        return;
    }
    if (snapshot->n_wires < 1 || thrum_pick_compute(&config, snapshot->n_wires, touch, snapshot->n_readings,
                                                    &snapshot->pick[0]) != THRUM_OK) {
        snapshot->pick[0].outcome = THRUM_NO_TONE;
        snapshot->pick[0].notes = THRUM_NOTE_CHECK_SENDER;
    }
    if (snapshot->n_readings == 0)
        snapshot->pick[0].outcome = THRUM_NO_TONE;
    if (snapshot->pick[0].outcome == THRUM_NO_TONE)
        snapshot->pick[0].wire = snapshot->pick[0].next_touch = -1;
}

/* Sound without a touch in it: nothing was heard. */
static void work_out_emptiness(struct findings *findings)
{
    if (misses_a_file(findings))
        return;
    for (int i = 0; i < findings->snapshot.n_senders; i++) {
        struct thrum_pick *pick = &findings->snapshot.pick[i];
        pick->outcome = THRUM_NO_TONE;
        pick->wire = pick->next_touch = -1;
        pick->n_contenders = 0;
        pick->notes = THRUM_NOTE_CHECK_SENDER;
    }
}

void findings_take(struct findings *findings, struct thrum_round *round)
{
    thrum_round_snapshot(round, &findings->snapshot);
    if (findings->snapshot.n_readings == 0 && !findings->by_hand)
        work_out_emptiness(findings);
    warn_of_faults(findings);
    warn_of_harmonics(findings);
    findings->no_voice = findings->snapshot.n_senders == 0;
    if (findings->no_voice)
        work_out_silence(findings);
}

int findings_code(const struct findings *findings)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    for (int i = 0; i < snapshot->n_senders; i++)
        if (snapshot->pick[i].outcome != THRUM_PICKED)
            return CODE_NO_PICK;
    return snapshot->n_senders > 0 ? CODE_DONE : CODE_NO_PICK;
}
