#include "sound/output.h"

#include <math.h>
#include <portaudio.h>
#include <stdlib.h>
#include <string.h>

#include "sound/device_list.h"
#include "sound/message.h"
#include "sound/pa_stream.h"
#include "sound/quiet.h"

#define CHUNK    480
#define CHANNELS 2 /* at most */
#define POLL_NS  3000000u
#define GONE_NS  1000000000u

struct thrum_output {
    struct sound_host host;
    struct pa_stream pa;
    char name[160];
    double latency_s; /* as the device says */
    uint64_t gaps;
    bool gone;
    uint64_t room_ns; /* when there was room last; 0 before the first look */
    float frames[CHUNK * CHANNELS];
};

/* ---- opening ---------------------------------------------------------------------------------- */

static enum thrum_status open_device(struct thrum_output *o, const struct thrum_output_config *config,
                                     struct thrum_message *message)
{
    struct device_list list;
    int found = -1;
    if (pa_stream_begin(&o->host, &o->pa, message) != PA_DONE)
        return THRUM_ERR_DEVICE;
    enum thrum_status status = device_list_make(&list, true);
    if (status == THRUM_OK)
        status = device_list_find(&list, config->name, &found, message);
    if (status == THRUM_OK) {
        const struct device_entry *e = &list.entry[found];
        memcpy(o->name, e->info.name, sizeof o->name);
        if (pa_stream_open_output(&o->host, &o->pa, e->device, &e->info, config->rate_hz, config->latency_s,
                                  message) != PA_DONE)
            status = THRUM_ERR_DEVICE;
    }
    device_list_free(&list);
    if (status != THRUM_OK)
        return status;
    const PaStreamInfo *info = Pa_GetStreamInfo(o->pa.stream);
    double latency = info && isfinite(info->outputLatency) ? info->outputLatency : 0.0;
    o->latency_s = fmin(fmax(latency, 0.05), 1.0);
    return THRUM_OK;
}

static bool in_range(const struct thrum_output_config *config)
{
    bool rate = config->rate_hz == 0.0 || (config->rate_hz >= 8000.0 && config->rate_hz <= 192000.0);
    bool latency = config->latency_s == 0.0 || (config->latency_s >= 0.01 && config->latency_s <= 1.0);
    return rate && latency;
}

enum thrum_status output_open(const struct sound_host *host, const struct thrum_output_config *config,
                              struct thrum_output **output, struct thrum_message *message)
{
    *output = NULL;
    if (!in_range(config)) {
        message_set(message, "an output plays 8000 to 192000 samples a second, 0.01 to 1 s late");
        return THRUM_ERR_ARG;
    }
    struct thrum_output *o = calloc(1, sizeof *o);
    if (!o) {
        message_set(message, "not enough memory to open the output; close other programs");
        return THRUM_ERR_MEM;
    }
    o->host = *host;
    enum thrum_status status = open_device(o, config, message);
    if (status) {
        thrum_output_close(o, false);
        return status;
    }
    *output = o;
    return THRUM_OK;
}

enum thrum_status thrum_output_open(const struct thrum_output_config *config, struct thrum_output **output,
                                    struct thrum_message *message)
{
    struct sound_host host = sound_host_real();
    struct thrum_quiet *quiet = thrum_quiet_begin(NULL);
    enum thrum_status status = output_open(&host, config, output, message);
    thrum_quiet_end(quiet);
    return status;
}

double thrum_output_rate_hz(const struct thrum_output *output)
{
    return output->pa.rate_hz;
}

const char *thrum_output_name(const struct thrum_output *output)
{
    return output->name;
}

double thrum_output_latency_s(const struct thrum_output *output)
{
    return output->latency_s;
}

uint64_t thrum_output_gaps(const struct thrum_output *output)
{
    return output->gaps;
}

/* ---- playing ---------------------------------------------------------------------------------- */

static float playable(float x)
{
    return isnan(x) ? 0.0f : x > 1.0f ? 1.0f : x < -1.0f ? -1.0f : x;
}

/* n at most CHUNK, and no more than there is room for. */
static bool play(struct thrum_output *o, const float *samples, size_t n)
{
    size_t width = (size_t)o->pa.channels;
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < width; c++)
            o->frames[i * width + c] = playable(samples[i]);
    PaError error = Pa_WriteStream(o->pa.stream, o->frames, (unsigned long)n);
    o->gaps += error == paOutputUnderflowed;
    return error == paNoError || error == paOutputUnderflowed;
}

enum thrum_status thrum_output_room(struct thrum_output *output, size_t *frames)
{
    struct thrum_output *o = output;
    uint64_t now_ns = o->host.now_ns(o->host.context);
    signed long room = o->gone ? -1 : Pa_GetStreamWriteAvailable(o->pa.stream);
    *frames = room > 0 ? (size_t)room : 0;
    if (room > 0 || o->room_ns == 0)
        o->room_ns = now_ns;
    o->gone = o->gone || room < 0 || now_ns - o->room_ns > GONE_NS;
    return o->gone ? THRUM_ERR_DEVICE : THRUM_OK;
}

enum thrum_status thrum_output_offer(struct thrum_output *output, const float *samples, size_t n,
                                     size_t *taken)
{
    struct thrum_output *o = output;
    *taken = 0;
    while (*taken < n && !o->gone) {
        signed long room = Pa_GetStreamWriteAvailable(o->pa.stream);
        size_t now = n - *taken < CHUNK ? n - *taken : CHUNK;
        if (room == 0)
            return THRUM_OK;
        now = room > 0 && (size_t)room < now ? (size_t)room : now;
        if (room < 0 || !play(o, samples + *taken, now))
            o->gone = true;
        else
            *taken += now;
    }
    return o->gone ? THRUM_ERR_DEVICE : THRUM_OK;
}

enum thrum_status thrum_output_write(struct thrum_output *output, const float *samples, size_t n,
                                     struct thrum_message *message)
{
    struct thrum_output *o = output;
    uint64_t still_ns = 0;
    for (size_t done = 0; done < n && !o->gone;) {
        size_t taken;
        thrum_output_offer(o, samples + done, n - done, &taken);
        done += taken;
        still_ns = taken > 0 ? 0 : still_ns + POLL_NS;
        o->gone = o->gone || still_ns > GONE_NS;
        if (done < n && !o->gone)
            o->host.sleep_ns(o->host.context, POLL_NS);
    }
    if (o->gone)
        message_set(message, "the output '%s' takes no more sound; plug it in again and start anew", o->name);
    return o->gone ? THRUM_ERR_DEVICE : THRUM_OK;
}

/* Stopping drops what is still in the device's buffer; so silence is put behind it first, twice as long. */
static void let_end(struct thrum_output *o)
{
    float silence[CHUNK] = {0};
    size_t left = (size_t)(2.0 * o->latency_s * o->pa.rate_hz) + 2 * CHUNK;
    for (; left > 0 && !o->gone; left -= left < CHUNK ? left : CHUNK)
        (void)thrum_output_write(o, silence, left < CHUNK ? left : CHUNK, NULL);
}

void thrum_output_close(struct thrum_output *output, bool to_the_end)
{
    if (!output)
        return;
    if (to_the_end && output->pa.stream)
        let_end(output);
    pa_stream_end(&output->host, &output->pa);
    free(output);
}
