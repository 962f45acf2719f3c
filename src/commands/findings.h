/* What a round came to, ready to be printed: for a person, or as JSON. */
#ifndef THRUM_FINDINGS_H
#define THRUM_FINDINGS_H

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

#include "thrum/round.h"

struct finding_warning {
    const char *code; /* static */
    char text[400];
};

struct findings {
    struct thrum_snapshot snapshot;
    bool by_hand; /* touches are taken by keys: without one nothing was listened to, so no tone is not said */
    bool no_voice; /* no voice was found: the sender in the snapshot stands for it */
    char *source[THRUM_MAX_READINGS];
    int n_warnings;
    int warnings_room;
    struct finding_warning *warning;
};

struct findings *findings_create(void);
void findings_destroy(struct findings *findings);

/* Adds a warning once. */
void findings_warn(struct findings *findings, const char *code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Notes where readings from this one on come from. */
void findings_source(struct findings *findings, int first_reading, int end_reading, const char *name);

/* Takes the round's last snapshot and gathers the warnings of its readings. Where the round had no voice to listen for,
 * "no tone" is worked out. */
void findings_take(struct findings *findings, struct thrum_round *round);

/* CODE_DONE when every sender was picked, else CODE_NO_PICK. */
int findings_code(const struct findings *findings);

/* The one document of `thrum rank --json`. */
json_t *findings_json(const struct findings *findings);

/* The mains: the middle one of what the readings found; 0 for none. */
double findings_mains_hz(const struct thrum_snapshot *snapshot);

/* Parts of it, for events. */
json_t *reading_json(const struct thrum_snapshot *snapshot, const struct thrum_reading *reading,
                     const char *source);
json_t *pick_json(const struct thrum_snapshot *snapshot, int sender);

/* The ranking, the verdict, the next step. */
void findings_print(const struct findings *findings, FILE *stream);

/* "Wire w07 carries the tone (chance 99.98 %), ..." and, in next, the next step or "". */
void verdict_sentence(const struct thrum_snapshot *snapshot, int sender, char *text, size_t size);
void verdict_next(const struct thrum_snapshot *snapshot, int sender, char *text, size_t size);

/* "1037.0 Hz, 0.250 s on, 0.250 s off". */
void voice_sentence(const struct thrum_voice *voice, char *text, size_t size);

/* "99.98 %", never rounded up to certainty. */
void chance_text(double chance, char *text, size_t size);

#endif
