/* The recorder's inner settings, for tests. */
#ifndef THRUM_SOUND_RECORDER_OWN_H
#define THRUM_SOUND_RECORDER_OWN_H

#include "sound/recorder.h"

struct recorder_limits {
    uint64_t part_bytes; /* of sound in one file */
    double part_s;       /* of sound in one file */
    double space_s;      /* look at the free space after this much sound */
    double warn_s;       /* warn when there is room for less than this */
};

struct recorder_limits recorder_limits_default(void);

enum thrum_status recorder_create_limited(const struct thrum_recorder_config *config,
                                          const struct recorder_limits *limits,
                                          struct thrum_recorder **recorder, struct thrum_message *message);

#endif
