/* What ears hear, sample by sample: short cues, a guide whose pitch follows strength, or sound that is passed on. */
#ifndef THRUM_EARS_SOUND_H
#define THRUM_EARS_SOUND_H

#include <stdbool.h>
#include <stddef.h>

enum ears_cue { EARS_NONE, EARS_TAKEN, EARS_PICKED, EARS_LOST };

struct ears_sound {
    double rate_hz;
    enum ears_cue cue; /* being played */
    size_t cue_at;     /* samples of it that were */
    double cue_phase;
    double guide_hz; /* wanted */
    bool guided;     /* there is something to guide to */
    double now_hz, now_gain, phase;
};

void ears_sound_begin(struct ears_sound *sound, double rate_hz);

/* In place of a cue that is being played. */
void ears_sound_cue(struct ears_sound *sound, enum ears_cue cue);
bool ears_sound_cueing(const struct ears_sound *sound);

/* Strength in dBFS: 20 dB are an octave, 1 dB more than half a semitone; -90 dBFS is 220 Hz. Below -110 it is silent. */
void ears_sound_guide(struct ears_sound *sound, double dbfs);
double ears_guide_hz(double dbfs);

/* Adds the guide and the cue to what is in out, which a cue makes quieter. Shape [n]. */
void ears_sound_add(struct ears_sound *sound, float *out, size_t n);

#endif
