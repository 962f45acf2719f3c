/* A round for the ears: what is heard, cleaned of hum; or a guide whose pitch follows strength; and short cues. Plays in a
 * thread of its own, so that a sound output that fails never holds up a round. */
#ifndef THRUM_EARS_H
#define THRUM_EARS_H

#include <stddef.h>

#include "commands/worker.h"
#include "sound/host.h"
#include "thrum/voice.h"

struct ears;

enum ears_mode { EARS_OFF, EARS_CUES, EARS_GUIDE, EARS_CLEANED };

struct ears_config {
    enum ears_mode mode; /* not EARS_OFF; every one has the cues */
    const char *output;  /* as thrum_output_open() takes it; kept as long as the ears */
    double rate_hz;      /* of what is heard, 8000 to 192000 */
    int channels;
    const struct thrum_voice *voices; /* whose tones cleaning spares */
    int n_voices;
    const struct sound_host *host; /* NULL: the real one. One without threads is stepped by ears_step(). */
};

/* CODE_DONE, or CODE_DEVICE, CODE_USAGE and a message. */
int ears_open(const struct ears_config *config, struct ears **ears, struct thrum_message *message);

/* Within some seconds, whatever the output does. NULL is allowed. */
void ears_close(struct ears *ears);

/* Where it is heard, and how much later than at the probe, about. */
const char *ears_output(const struct ears *ears);
double ears_late_s(const struct ears *ears);

/* What the session has read; never waits. From one thread. NULL ears are allowed. */
void ears_hear(struct ears *ears, const float *samples, size_t n_frames);

/* What is known: cues and the guide follow from it. From another one. When the output has gone, says so in the view's message, where
 * that is not newer. NULL ears are allowed. */
void ears_see(struct ears *ears, struct worker_view *view);

/* As last seen: the output has gone, and message says so. NULL ears: it has not. */
bool ears_gone(const struct ears *ears, struct thrum_message *message);

/* Plays what there is room for now; for tests. */
void ears_step(struct ears *ears);

#endif
