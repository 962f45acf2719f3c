#include "commands/tone_play.h"

#include "commands/command.h"
#include "commands/stop.h"
#include "signal/keyed.h"

/* Short, so that a wish to stop is seen to at once. */
#define BLOCK 1024

int tone_play_open(const struct tone_play_config *config, struct thrum_output **output,
                   struct thrum_message *message)
{
    struct thrum_output_config wanted = {.name = config->output, .rate_hz = config->rate_hz};
    enum thrum_status status = output_open(config->host, &wanted, output, message);
    if (status == THRUM_OK)
        return CODE_DONE;
    return status == THRUM_ERR_ARG ? CODE_USAGE : CODE_DEVICE;
}

int tone_play(const struct tone_play_config *config, struct thrum_output *output,
              struct thrum_message *message)
{
    struct thrum_keyed keyed;
    float block[BLOCK];
    enum thrum_status status = THRUM_OK;
    thrum_keyed_start(&keyed, config->voice, thrum_output_rate_hz(output), config->level_dbfs);
    uint64_t left = config->for_s > 0.0 ? thrum_keyed_whole_frames(&keyed, config->for_s) : UINT64_MAX;
    while (left > 0 && status == THRUM_OK && !stop_asked()) {
        size_t n = left < BLOCK ? (size_t)left : BLOCK;
        thrum_keyed_make(&keyed, block, n);
        status = thrum_output_write(output, block, n, message);
        left -= n;
    }
    thrum_output_close(output, left == 0);
    return status == THRUM_OK ? CODE_DONE : CODE_DEVICE;
}
