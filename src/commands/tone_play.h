/* A voice out of a sound output: the machine itself stands in for a sender. */
#ifndef THRUM_TONE_PLAY_H
#define THRUM_TONE_PLAY_H

#include "sound/host.h"
#include "sound/message.h"
#include "sound/output.h"
#include "thrum/voice.h"

struct tone_play_config {
    const struct sound_host *host;
    const char *output;              /* as thrum_output_config.name */
    const struct thrum_voice *voice; /* passes thrum_voice_check() */
    double rate_hz;                  /* 0: what the output likes best */
    double level_dbfs;
    double for_s; /* to the nearest whole cycle; 0: until it is asked to stop */
};

/* Opens the output; CODE_DONE, or CODE_DEVICE or CODE_USAGE and a message. *output is to be closed by tone_play(). */
int tone_play_open(const struct tone_play_config *config, struct thrum_output **output,
                   struct thrum_message *message);

/* Plays until the time is up or somebody asks it to stop, and closes the output. CODE_DONE, or CODE_DEVICE and a message when
 * the output has gone. */
int tone_play(const struct tone_play_config *config, struct thrum_output *output,
              struct thrum_message *message);

#endif
