/* The recordings of a round as sound to be played and looked at: raw, and with the hum taken out. */
#ifndef THRUM_SOUND_HEARD_H
#define THRUM_SOUND_HEARD_H

#include <stdbool.h>
#include <stddef.h>

#include "commands/findings.h"

/* More than this is no sound for a page. */
#define SOUND_MOST_S   180.0
#define SOUND_AROUND_S 0.5  /* heard before and after a touch, where only touches are */
#define SOUND_GAIN_DB  20.0 /* by which the clean sound is louder */

/* Where a touch lies in the sound, where only touches are in it: what is around it begins at begin_s. */
struct sound_touch {
    int reading;
    double begin_s, from_s, to_s;
};

/* One recording after the other, as if they were one. Zeroed it is empty. */
struct sound_heard {
    double rate_hz; /* 8000 to 16000; 0 when nothing could be heard */
    size_t n, room;
    float *raw, *clean; /* [n], full scale = +/-1; clean is SOUND_GAIN_DB louder, limited to full scale */
    bool too_long; /* more than SOUND_MOST_S: nothing but touches, or nothing at all, where there are none */
    bool rates_differ; /* recordings of another sample rate than the first are missing */
    int n_touches,
        left_out; /* where it is too long: those in the sound, and those for which there was no room, of the wires
                                  least likely to be it */
    struct sound_touch *touch; /* [n_touches] */
};

/* Hears the recordings in the channel that was measured; where they are too long, their touches. What cannot be opened, and standard
 * input, adds nothing. False when there was no memory; sound_free() in both cases. */
bool sound_hear(struct sound_heard *sound, const struct findings *findings, const char *const *path,
                int n_files);
void sound_free(struct sound_heard *sound);

#endif
