#include "sound/pa_stream.h"

#include <math.h>
#include <pthread.h>
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
    bool plays; /* an output */
    PaStreamParameters parameters;
    double rate_hz;
    PaStream *stream;
    PaError error;
};

/* PortAudio is one for the whole program and keeps count of its users and streams without a lock; an input and an output
 * may be opened from different threads. Not held where a dead device hangs: starting and aborting. */
static pthread_mutex_t portaudio = PTHREAD_MUTEX_INITIALIZER;

static void begin(struct pa_job *job)
{
    pthread_mutex_lock(&portaudio);
    if (job->running) {
        (void)Pa_Terminate();
        job->running = false;
    }
    job->error = Pa_Initialize();
    job->running = job->error == paNoError;
    pthread_mutex_unlock(&portaudio);
}

static void open_stream(struct pa_job *job)
{
    const PaStreamParameters *in = job->plays ? NULL : &job->parameters;
    const PaStreamParameters *out = job->plays ? &job->parameters : NULL;
    unsigned long block = (unsigned long)(job->rate_hz / 100.0);
    pthread_mutex_lock(&portaudio);
    job->error =
        Pa_OpenStream(&job->stream, in, out, job->rate_hz, block, paClipOff | paDitherOff, NULL, NULL);
    pthread_mutex_unlock(&portaudio);
}

static void close_stream(struct pa_job *job)
{
    if (job->stream) {
        (void)Pa_AbortStream(job->stream); /* an input has nothing to drain, and an output is never drained */
        pthread_mutex_lock(&portaudio);
        (void)Pa_CloseStream(job->stream);
        pthread_mutex_unlock(&portaudio);
        job->stream = NULL;
    }
}

static void end(struct pa_job *job)
{
    close_stream(job);
    pthread_mutex_lock(&portaudio);
    (void)Pa_Terminate();
    pthread_mutex_unlock(&portaudio);
    job->running = false;
}

static void work(void *own)
{
    struct pa_job *job = own;
    switch (job->op) {
    case OP_BEGIN:
        begin(job);
        break;
    case OP_OPEN:
        open_stream(job);
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
        end(job);
        break;
    }
}

/* Does it within the limit and copies the result back into *job. */
static bool do_job(const struct sound_host *host, struct pa_job *job, uint64_t limit_ns)
{
    struct pa_job *own = malloc(sizeof *own);
    if (!own)
        return false;
    *own = *job;
    if (!host->bounded(host->context, work, own, limit_ns))
        return false;
    *job = *own;
    free(own);
    return true;
}

enum pa_result pa_stream_begin(const struct sound_host *host, struct pa_stream *s, struct thrum_message *why)
{
    struct pa_job job = {.op = OP_BEGIN, .running = s->running};
    if (s->hung)
        return s->running ? PA_DONE : PA_HANGS;
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
    if (error == paDeviceUnavailable)
        return true;
    const PaHostErrorInfo *host = error == paUnanticipatedHostError ? Pa_GetLastHostErrorInfo() : NULL;
    return host && host->errorText && strstr(host->errorText, "busy") != NULL;
}

static void say_why(const char *name, bool plays, PaError error, bool busy, struct thrum_message *why)
{
    const char *what = plays ? "output" : "input", *list = plays ? "" : "; try another of thrum inputs";
    const PaHostErrorInfo *host = error == paUnanticipatedHostError ? Pa_GetLastHostErrorInfo() : NULL;
    const char *text =
        host && host->errorText && host->errorText[0] ? host->errorText : Pa_GetErrorText(error);
    if (busy) {
        message_set(why, "the %s '%s' is in use by another program; try 'default', or close that program",
                    what, name);
    } else {
        message_set(why, "the %s '%s' cannot be opened: %s%s", what, name, text, list);
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
    if (most >= 2)
        candidate[n++] = 2;
    candidate[n++] = 1;
    for (int c = 3; c <= most && c <= MOST_CHANNELS_TRIED; c++)
        candidate[n++] = c;
    if (most > MOST_CHANNELS_TRIED)
        candidate[n++] = most;
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
    if (good_rate(own_hz))
        candidate[n++] = own_hz;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
        if (fabs(usual[i] - own_hz) > 0.5)
            candidate[n++] = usual[i];
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
static bool open_some(const struct sound_host *host, struct pa_stream *s, struct pa_job *job, double own_hz,
                      int most_channels, double rate_hz, int channels)
{
    double rate[8];
    int count[MOST_CHANNELS_TRIED + 2];
    int n_rates = rate_candidates(own_hz, rate_hz, rate);
    int n_counts = channel_candidates(most_channels, channels, count);
    for (int r = 0; r < n_rates; r++) {
        for (int c = 0; c < n_counts; c++) {
            job->rate_hz = rate[r];
            job->parameters.channelCount = count[c];
            if (try_open(host, job, s))
                return true;
            if (s->hung || is_busy(job->error))
                return false;
            if (job->error != paInvalidChannelCount && job->error != paInvalidSampleRate)
                break;
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

/* What both directions share: find a rate and a number of channels, open, start. */
static enum pa_result open_and_start(const struct sound_host *host, struct pa_stream *s, struct pa_job *job,
                                     const struct thrum_input *wanted, double rate_hz, int channels,
                                     struct thrum_message *why)
{
    const char *what = job->plays ? "output" : "input";
    if (!open_some(host, s, job, wanted->rate_hz, wanted->channels, rate_hz, channels)) {
        if (s->hung) {
            message_set(why, "the %s '%s' does not answer; unplug it and plug it in again", what,
                        wanted->name);
            return PA_HANGS;
        }
        bool busy = is_busy(job->error);
        say_why(wanted->name, job->plays, job->error, busy, why);
        return busy ? PA_BUSY : PA_REFUSED;
    }
    take_facts(s, job);
    job->op = OP_START;
    if (!do_job(host, job, PA_LIMIT_CLOSE_NS)) {
        s->hung = true;
        s->stream = NULL;
        message_set(why, "the %s '%s' does not start; unplug it and plug it in again", what, wanted->name);
        return PA_HANGS;
    }
    if (job->error != paNoError) {
        say_why(wanted->name, job->plays, job->error, is_busy(job->error), why);
        pa_stream_close(host, s);
        return PA_REFUSED;
    }
    return PA_DONE;
}

/* The device's own wish, within limits. */
static double latency_of(double own_s)
{
    return fmin(fmax(isfinite(own_s) ? own_s : 0.0, LEAST_LATENCY_S), MOST_LATENCY_S);
}

enum pa_result pa_stream_open(const struct sound_host *host, struct pa_stream *s, int device,
                              const struct thrum_input *input, double rate_hz, int channels,
                              struct thrum_message *why)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(device);
    struct pa_job job = {.op = OP_OPEN, .running = s->running};
    job.parameters.device = device;
    job.parameters.sampleFormat = paFloat32;
    job.parameters.suggestedLatency = latency_of(info ? info->defaultHighInputLatency : 0.0);
    return open_and_start(host, s, &job, input, rate_hz, channels, why);
}

enum pa_result pa_stream_open_output(const struct sound_host *host, struct pa_stream *s, int device,
                                     const struct thrum_input *output, double rate_hz, double latency_s,
                                     struct thrum_message *why)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(device);
    struct thrum_input wanted = *output;
    struct pa_job job = {.op = OP_OPEN, .running = s->running, .plays = true};
    wanted.channels = output->channels >= 2 ? 2 : 1;
    job.parameters.device = device;
    job.parameters.sampleFormat = paFloat32;
    job.parameters.suggestedLatency =
        latency_s > 0.0 ? latency_s : latency_of(info ? info->defaultHighOutputLatency : 0.0);
    return open_and_start(host, s, &job, &wanted, rate_hz, 0, why);
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
    if (s->stream && !do_job(host, &job, PA_LIMIT_CLOSE_NS))
        s->hung = true;
    s->stream = NULL;
}

void pa_stream_end(const struct sound_host *host, struct pa_stream *s)
{
    struct pa_job job = {.op = OP_END, .running = s->running, .stream = s->stream};
    if (s->hung)
        pa_stream_close(host, s);
    else if (s->running && !do_job(host, &job, PA_LIMIT_CLOSE_NS))
        s->hung = true;
    s->stream = NULL;
    s->running = false;
}
