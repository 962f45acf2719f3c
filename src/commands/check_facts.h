/* What an input turned out to be: heard for some seconds, cut into stretches, each looked at like a touch. */
#ifndef THRUM_CHECK_FACTS_H
#define THRUM_CHECK_FACTS_H

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

#include "sound/source.h"
#include "thrum/learn.h"
#include "thrum/reading.h"

enum check_verdict {
    CHECK_TRUSTED,
    CHECK_UNCLEAR, /* nothing speaks against it, but a level control could not be told */
    CHECK_NOT_TRUSTED
};

/* Hum and noise in the pauses beside those in the beeps. */
enum check_breath {
    CHECK_BREATH_UNKNOWN, /* a level control might not have shown */
    CHECK_BREATH_ALIKE,   /* it would have, and did not */
    CHECK_BREATH_LOUDER,  /* in the pauses, more than by chance, but not surely by a level control */
    CHECK_BREATH_QUIETER  /* surely: something takes them away, or the sender brings them along */
};

struct check_facts {
    struct thrum_source_info info;
    double heard_s, lost_s;
    bool cut;                       /* there was more sound than was looked at */
    int stretches;                  /* looked at */
    int seen[THRUM_FAULTS];         /* stretches that have this fault */
    int told;                       /* stretches with beeps enough to tell a level control */
    double breath_db, breath_sd_db; /* over those */
    enum check_breath breath;
    int falls;            /* stretches of sound after it had dropped, as at a lift */
    double rise, rise_sd; /* how fast it came back by itself in those, dB a second */
    bool would_show;      /* a level control would have shown in either */
    bool has_voice;
    struct thrum_learned learned;
    double tone_dbfs; /* median; THRUM_FLOOR_DBFS where none was heard */
    double mains_hz, hum_dbfs, noise_dbfs, peak_dbfs;
    int channel;
    double came_hz;    /* by the clock, as in check_sound */
    double made_at_hz; /* the sample rate the sound was really made at, 0: the one it has */
    double band_hz;    /* it ends at this frequency as if cut off; 0: it does not */
    uint32_t faults;   /* those that count */
    enum check_verdict verdict;
};

/* Sound held in memory. */
struct check_sound {
    struct thrum_source_info info;
    float *samples; /* [frames * channels] */
    size_t frames, room;
    uint64_t lost;  /* frames lost on the way */
    double came_hz; /* the rate by the clock when it is not that of the info, else 0 */
    bool cut;
};

/* THRUM_OK or THRUM_ERR_MEM. */
enum thrum_status check_look(const struct check_sound *sound, struct check_facts *facts);

/* The same for a person, and for a program. */
void check_print(const struct check_facts *facts, FILE *stream);
json_t *check_json(const struct check_facts *facts);

/* One line on why a verdict is unclear; "" otherwise. */
const char *check_missing(const struct check_facts *facts);

#endif
