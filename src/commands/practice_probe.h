/* A practice bundle as a source of sound, with a probe that can be moved. */
#ifndef THRUM_PRACTICE_PROBE_H
#define THRUM_PRACTICE_PROBE_H

#include <stdbool.h>

#include "sound/source.h"
#include "thrum/practice.h"

struct practice_probe;

/* So many senders, 1 to THRUM_MAX_SENDERS, each with a voice that thrum tone proposes for this mains.
 * THRUM_ERR_ARG: more than wires; THRUM_ERR_NOT_FOUND: there are no such voices. */
enum thrum_status practice_senders(struct thrum_practice_config *config, int n_senders);

/* How the probe is moved. */
enum practice_hand {
    PRACTICE_WALKS,   /* over all wires by itself; then the sound ends */
    PRACTICE_AT_LEAD, /* rests on the sender's own lead, for ever */
    PRACTICE_GUIDED   /* in the air until practice_probe_place() */
};

/* Opens the source; *probe belongs to the source and lives as long as it. paced: in the time it would take in life. */
enum thrum_status practice_probe_open(const struct thrum_practice_config *config, enum practice_hand hand,
                                      bool paced, struct thrum_source **source,
                                      struct practice_probe **probe);

/* Puts the probe on the wire with this tag ("7", "w07"), or in the middle of a group ("3-14"), or into the air for NULL and for a tag that is no wire. Only
 * when guided. Belongs to the thread that reads the source. */
void practice_probe_place(struct practice_probe *probe, const char *tag);

/* The bundle itself, for what is true of it. */
const struct thrum_practice *practice_probe_bundle(const struct practice_probe *probe);

/* How many wires it has; their tags are 1, 2, 3 ... */
int practice_probe_wires(const struct practice_probe *probe);

#endif
