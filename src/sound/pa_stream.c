#include "sound/pa_stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sound/message.h"

#define MOST_CHANNELS_TRIED 8
#define MOST_CHANNELS       64
#define LEAST_LATENCY_S     0.1
#define MOST_LATENCY_S      0.3

enum pa_op { OP_BEGIN, OP_OPEN, OP_START, OP_KICK, OP_CLOSE, OP_END };

struct pa_job {
    enum pa_op op;
    bool running;
    PaStreamParameters parameters;
    double rate_hz;
    PaStream *stream;
    PaError error;
};

static void begin(struct pa_job *job)
{
    if (job->running) {
        (void)Pa_Terminate();
        job->running = false;
    }
    job->error = Pa_Initialize();
    job->running = job->error == paNoError;
}

static void close_stream(struct pa_job *job)
{
    if (job->stream) {
        (void)Pa_AbortStream(job->stream); /* an input has nothing to drain */
        (void)Pa_CloseStream(job->stream);
        job->stream = NULL;
    }
}

static void work(void *own)
{
    struct pa_job *job = own;
    switch (job->op) {
    case OP_BEGIN:
        begin(job);
        break;
    case OP_OPEN:
        job->error =
            Pa_OpenStream(&job->stream, &job->parameters, NULL, job->rate_hz,
                          (unsigned long)(job->rate_hz / 100.0), paClipOff | paDitherOff, NULL, NULL);
        break;
    case OP_START:
        job->error = Pa_StartStream(job->stream);
        break;
    case OP_KICK:
        (void)Pa_AbortStream(job->stream);
        job->error = Pa_StartStream(job->stream);
        break;
    case OP_CLOSE:
        close_stream(job);
        break;
    case OP_END:
        close_stream(job);
        (void)Pa_Terminate();
        job->running = false;
        break;
    }
}

/* Does it within the limit and copies the result back into *job. */
static bool do_job(const struct sound_host *host, struct pa_job *job, uint64_t limit_ns)
{
    struct pa_job *own = malloc(sizeof *own);
    if (!own) {
        return false;
    }
    *own = *job;
    if (!host->bounded(host->context, work, own, limit_ns)) {
        return false;
    }
    *job = *own;
    free(own);
    return true;
}

enum pa_result pa_stream_begin(const struct sound_host *host, struct pa_stream *s, struct thrum_message *why)
{
    struct pa_job job = {.op = OP_BEGIN, .running = s->running};
    if (s->hung) {
        return s->running ? PA_DONE : PA_HANGS;
    }
    if (!do_job(host, &job, PA_LIMIT_INIT_NS)) {
        s->hung = true;
        message_set(why, "the sound system does not answer; restart the sound server, or log in again");
        return PA_HANGS;
    }
    s->running = job.running;
    if (job.error != paNoError) {
        message_set(why, "the sound system does not start: %s; restart the sound server, or log in again",
                    Pa_GetErrorText(job.error));
        return PA_REFUSED;
    }
    return PA_DONE;
}

/* ---- opening ---------------------------------------------------------------------------------- */

static bool good_rate(double rate_hz)
{
    return isfinite(rate_hz) && rate_hz >= 8000.0 && rate_hz <= 192000.0;
}

static bool is_busy(PaError error)
{
    if (error == paDeviceUnavailable) {
        return true;
    }
    const PaHostErrorInfo *host = error == paUnanticipatedHostError ? Pa_GetLastHostErrorInfo() : NULL;
    return host && host->errorText && strstr(host->errorText, "busy") != NULL;
}

static void say_why(const struct thrum_input *input, PaError error, bool busy, struct thrum_message *why)
{
    const PaHostErrorInfo *host = error == paUnanticipatedHostError ? Pa_GetLastHostErrorInfo() : NULL;
    const char *text =
        host && host->errorText && host->errorText[0] ? host->errorText : Pa_GetErrorText(error);
    if (busy) {
        message_set(why, "the input '%s' is in use by another program; try 'default', or close that program",
                    input->name);
    } else {
        message_set(why, "the input '%s' cannot be opened: %s; try another of thrum inputs", input->name,
                    text);
    }
}

/* Counts worth asking for, best first: two for one-sided probes, then one, then up to the device's own. */
static int channel_candidates(int most, int wanted, int *candidate)
{
    int n = 0;
    most = most < MOST_CHANNELS ? most : MOST_CHANNELS;
    if (wanted > 0) {
        candidate[n++] = wanted;
        return n;
    }
    if (most >= 2) {
        candidate[n++] = 2;
    }
    candidate[n++] = 1;
    for (int c = 3; c <= most && c <= MOST_CHANNELS_TRIED; c++) {
        candidate[n++] = c;
    }
    if (most > MOST_CHANNELS_TRIED) {
        candidate[n++] = most;
    }
    return n;
}

static int rate_candidates(double own_hz, double wanted_hz, double *candidate)
{
    static const double usual[] = {48000.0, 44100.0, 96000.0, 32000.0, 16000.0, 8000.0};
    int n = 0;
    if (wanted_hz > 0.0) {
        candidate[n++] = wanted_hz;
        return n;
    }
    if (good_rate(own_hz)) {
        candidate[n++] = own_hz;
    }
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        if (fabs(usual[i] - own_hz) > 0.5) {
            candidate[n++] = usual[i];
        }
    }
    return n;
}

static bool try_open(const struct sound_host *host, struct pa_job *job, struct pa_stream *s)
{
    job->op = OP_OPEN;
    job->stream = NULL;
    if (!do_job(host, job, PA_LIMIT_OPEN_NS)) {
        s->hung = true;
        return false;
    }
    return job->error == paNoError;
}

/* Goes through rates and channel counts; job->error is that of the last try. */
static bool open_some(const struct sound_host *host, struct pa_stream *s, struct pa_job *job,
                      const struct thrum_input *input, double rate_hz, int channels)
{
    double rate[8];
    int count[MOST_CHANNELS_TRIED + 2];
    int n_rates = rate_candidates(input->rate_hz, rate_hz, rate);
    int n_counts = channel_candidates(input->channels, channels, count);
    for (int r = 0; r < n_rates; r++) {
        for (int c = 0; c < n_counts; c++) {
            job->rate_hz = rate[r];
            job->parameters.channelCount = count[c];
            if (try_open(host, job, s)) {
                return true;
            }
            if (s->hung || is_busy(job->error)) {
                return false;
            }
            if (job->error != paInvalidChannelCount && job->error != paInvalidSampleRate) {
                break;
            }
        }
    }
    return false;
}

static void take_facts(struct pa_stream *s, const struct pa_job *job)
{
    const PaStreamInfo *info = Pa_GetStreamInfo(job->stream);
    s->stream = job->stream;
    s->channels = job->parameters.channelCount;
    s->rate_hz = info && good_rate(info->sampleRate) ? info->sampleRate : job->rate_hz;
}

enum pa_result pa_stream_open(const struct sound_host *host, struct pa_stream *s, int device,
                              const struct thrum_input *input, double rate_hz, int channels,
                              struct thrum_message *why)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(device);
    double latency = info && isfinite(info->defaultHighInputLatency) ? info->defaultHighInputLatency : 0.0;
    struct pa_job job = {.op = OP_OPEN, .running = s->running};
    job.parameters.device = device;
    job.parameters.sampleFormat = paFloat32;
    job.parameters.suggestedLatency = fmin(fmax(latency, LEAST_LATENCY_S), MOST_LATENCY_S);
    if (!open_some(host, s, &job, input, rate_hz, channels)) {
        if (s->hung) {
            message_set(why, "the input '%s' does not answer; unplug it and plug it in again", input->name);
            return PA_HANGS;
        }
        bool busy = is_busy(job.error);
        say_why(input, job.error, busy, why);
        return busy ? PA_BUSY : PA_REFUSED;
    }
    take_facts(s, &job);
    job.op = OP_START;
    if (!do_job(host, &job, PA_LIMIT_CLOSE_NS)) {
        s->hung = true;
        s->stream = NULL;
        message_set(why, "the input '%s' does not start; unplug it and plug it in again", input->name);
        return PA_HANGS;
    }
    if (job.error != paNoError) {
        say_why(input, job.error, is_busy(job.error), why);
        pa_stream_close(host, s);
        return PA_REFUSED;
    }
    return PA_DONE;
}

/* ---- ending ----------------------------------------------------------------------------------- */

enum pa_result pa_stream_kick(const struct sound_host *host, struct pa_stream *s)
{
    struct pa_job job = {.op = OP_KICK, .running = s->running, .stream = s->stream};
    if (!do_job(host, &job, PA_LIMIT_KICK_NS)) {
        s->hung = true;
        s->stream = NULL; /* left to the thread that hangs in it */
        return PA_HANGS;
    }
    return job.error == paNoError ? PA_DONE : PA_REFUSED;
}

void pa_stream_close(const struct sound_host *host, struct pa_stream *s)
{
    struct pa_job job = {.op = OP_CLOSE, .running = s->running, .stream = s->stream};
    if (s->stream && !do_job(host, &job, PA_LIMIT_CLOSE_NS)) {
        s->hung = true;
    }
    s->stream = NULL;
}

void pa_stream_end(const struct sound_host *host, struct pa_stream *s)
{
    struct pa_job job = {.op = OP_END, .running = s->running, .stream = s->stream};
    if (s->hung) {
        pa_stream_close(host, s);
    } else if (s->running && !do_job(host, &job, PA_LIMIT_CLOSE_NS)) {
        s->hung = true;
    }
    s->stream = NULL;
    s->running = false;
}
