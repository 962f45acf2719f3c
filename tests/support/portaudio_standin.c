#include "portaudio_standin.h"

#include <portaudio.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"

#define MAX_DEVICES 16
#define MAX_SKIPS   32
#define MAX_STREAMS 64
#define MAX_THREADS 16
#define MAX_PLAYED  1000000
#define NS          1000000000u

struct device {
    char name[128];
    int api;
    int channels;
    int outputs;
    double rate_hz;
    int only_channels;
    double only_rate_hz;
    double actual_rate_hz;
    int open_error;
    int start_error;
};

struct skip {
    uint64_t at;
    uint64_t frames;
    int silent;
    int done;
};

struct stream {
    int device;
    int channels;
    double rate_hz;
    int number; /* 1 for the first ever */
    int started;
    int closed;
    uint64_t start_ns;
    uint64_t base;  /* frames delivered before this start */
    uint64_t taken; /* read since this start */
    uint64_t skipped;
    int flag;
    int cured; /* of plug_stall */
    int plays;
    uint64_t world; /* the world's frame at which it was started */
    PaStreamInfo info;
};

struct thread {
    pthread_t thread;
    void (*work)(void *);
    void *job;
    int done;
    int left;
};

/* PortAudio is one per process, so its stand-in is too. */
static struct standin {
    struct device list[2][MAX_DEVICES];
    int n_devices[2];
    int n_lists;
    int current_list;
    int default_device, default_output;
    int init_error;
    int init_blocks, open_blocks, start_blocks, stop_blocks, abort_blocks, close_blocks;
    unsigned block;
    int zeros;
    double ppm;
    int flag_every;
    struct skip skip[MAX_SKIPS];
    int n_skips;
    uint64_t quiet_after, error_after, plug_stall, stall_at;
    double stall_s, return_after_s;
    int error;
    uint64_t holds;
    int side;
    uint64_t room, deaf_after, write_error_after;
    int write_error;
    float played[MAX_PLAYED]; /* by outputs, first channel */
    uint64_t n_played;
    uint64_t now_ns;
    uint64_t first_start_ns;
    const float *feed; /* [n_feed] what sounds in the world since the first start */
    size_t n_feed;
    int starts, running, streams_ever, open_streams, stop_calls;
    struct stream *stream[MAX_STREAMS]; /* all ever opened; freed at the end, since some are left hanging */
    PaDeviceInfo info;
    PaHostApiInfo api;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    int blocked; /* calls that block now */
    int ever_blocked;
    int release;
    struct thread thread[MAX_THREADS];
    int n_threads;
} the;

/* ---- script ----------------------------------------------------------------------------------- */

static int device_line(const char *line, struct device *d)
{
    return sscanf(line, "api %d", &d->api) == 1 || sscanf(line, "outputs %d", &d->outputs) == 1 ||
           sscanf(line, "channels %d", &d->channels) == 1 || sscanf(line, "rate %lf", &d->rate_hz) == 1 ||
           sscanf(line, "only_channels %d", &d->only_channels) == 1 ||
           sscanf(line, "only_rate %lf", &d->only_rate_hz) == 1 ||
           sscanf(line, "actual_rate %lf", &d->actual_rate_hz) == 1 ||
           sscanf(line, "open_error %d", &d->open_error) == 1 ||
           sscanf(line, "start_error %d", &d->start_error) == 1;
}

static int word_line(const char *line)
{
    static const struct {
        const char *word;
        int *flag;
    } words[] = {{"init_blocks", &the.init_blocks},
                 {"open_blocks", &the.open_blocks},
                 {"start_blocks", &the.start_blocks},
                 {"stop_blocks", &the.stop_blocks},
                 {"abort_blocks", &the.abort_blocks},
                 {"close_blocks", &the.close_blocks},
                 {"zeros", &the.zeros},
                 {"flag_every", &the.flag_every}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(line, words[i].word) == 0) {
            *words[i].flag = 1;
            return 1;
        }
    }
    return 0;
}

static int skip_line(const char *line)
{
    unsigned long long at = 0;
    unsigned long long frames = 0;
    int silent = sscanf(line, "skip_silent %llu %llu", &at, &frames) == 2;
    if (!silent && sscanf(line, "skip %llu %llu", &at, &frames) != 2)
        return 0;
    assert_true(the.n_skips < MAX_SKIPS);
    the.skip[the.n_skips++] = (struct skip){.at = at, .frames = frames, .silent = silent};
    return 1;
}

static int output_line(const char *line)
{
    unsigned long long at = 0;
    if (sscanf(line, "room %llu", &at) == 1)
        the.room = at;
    else if (sscanf(line, "deaf_after %llu", &at) == 1)
        the.deaf_after = at;
    else if (sscanf(line, "write_error_after %llu %d", &at, &the.write_error) == 2)
        the.write_error_after = at;
    else
        return 0;
    return 1;
}

static int fault_line(const char *line)
{
    unsigned long long at = 0;
    if (sscanf(line, "holds %llu", &at) == 1) {
        the.holds = at;
    } else if (sscanf(line, "quiet_after %llu", &at) == 1) {
        the.quiet_after = at;
    } else if (sscanf(line, "error_after %llu %d", &at, &the.error) == 2) {
        the.error_after = at;
    } else if (sscanf(line, "plug_stall %llu", &at) == 1) {
        the.plug_stall = at;
    } else if (sscanf(line, "stall %llu %lf", &at, &the.stall_s) == 2) {
        the.stall_at = at;
    } else {
        return sscanf(line, "default %d", &the.default_device) == 1 ||
               sscanf(line, "default_output %d", &the.default_output) == 1 ||
               sscanf(line, "init_error %d", &the.init_error) == 1 ||
               sscanf(line, "block %u", &the.block) == 1 || sscanf(line, "ppm %lf", &the.ppm) == 1 ||
               sscanf(line, "side %d", &the.side) == 1 ||
               sscanf(line, "return_after %lf", &the.return_after_s) == 1;
    }
    return 1;
}

static void read_line(const char *line)
{
    int l = the.n_lists - 1;
    int *n = &the.n_devices[l];
    if (line[0] == '\0')
        return;
    if (strcmp(line, "relist") == 0) {
        assert_int_equal(the.n_lists, 1);
        the.n_lists = 2;
        return;
    }
    if (strncmp(line, "device ", 7) == 0) {
        assert_true(*n < MAX_DEVICES);
        struct device *d = &the.list[l][(*n)++];
        *d = (struct device){.channels = 2, .rate_hz = 48000.0};
        snprintf(d->name, sizeof d->name, "%.127s", line + 7);
        return;
    }
    if ((*n > 0 && device_line(line, &the.list[l][*n - 1])) || word_line(line) || skip_line(line) ||
        fault_line(line) || output_line(line))
        return;
    fail_msg("stand-in: what is '%s'?", line);
}

void standin_begin(const char *script)
{
    memset(&the, 0, sizeof the);
    pthread_mutex_init(&the.lock, NULL);
    pthread_cond_init(&the.changed, NULL);
    the.n_lists = 1;
    the.block = 480;
    the.default_device = the.default_output = -2;
    the.room = 4800;
    the.deaf_after = the.write_error_after = UINT64_MAX;
    the.quiet_after = the.error_after = the.plug_stall = the.stall_at = UINT64_MAX;
    the.now_ns = 1000 * (uint64_t)NS;
    while (*script) {
        char line[200];
        size_t n = strcspn(script, "\n;");
        const char *from = script;
        size_t length = n;
        while (length > 0 && *from == ' ') {
            from++;
            length--;
        }
        snprintf(line, sizeof line, "%.*s", (int)length, from);
        read_line(line);
        script += n + (script[n] ? 1 : 0);
    }
}

/* ---- clock and blocking ----------------------------------------------------------------------- */

static uint64_t clock_now(void *context)
{
    (void)context;
    return the.now_ns;
}

static void clock_sleep(void *context, uint64_t ns)
{
    (void)context;
    the.now_ns += ns;
}

/* The call never comes back, until the test is over. */
static void block_for_ever(void)
{
    pthread_mutex_lock(&the.lock);
    the.blocked++;
    the.ever_blocked = 1;
    pthread_cond_broadcast(&the.changed);
    while (!the.release)
        pthread_cond_wait(&the.changed, &the.lock);
    pthread_mutex_unlock(&the.lock);
}

static void *run(void *own)
{
    struct thread *t = own;
    t->work(t->job);
    pthread_mutex_lock(&the.lock);
    t->done = 1;
    int left = t->left;
    pthread_cond_broadcast(&the.changed);
    pthread_mutex_unlock(&the.lock);
    if (left)
        free(t->job);
    return NULL;
}

static bool bounded(void *context, void (*work)(void *job), void *job, uint64_t limit_ns)
{
    (void)context;
    assert_true(the.n_threads < MAX_THREADS);
    struct thread *t = &the.thread[the.n_threads];
    int before = the.blocked;
    *t = (struct thread){.work = work, .job = job};
    assert_int_equal(pthread_create(&t->thread, NULL, run, t), 0);
    pthread_mutex_lock(&the.lock);
    while (!t->done && the.blocked == before)
        pthread_cond_wait(&the.changed, &the.lock);
    bool done = t->done;
    t->left = !done;
    pthread_mutex_unlock(&the.lock);
    if (done) {
        pthread_join(t->thread, NULL);
        return true;
    }
    the.n_threads++; /* joined at the end */
    the.now_ns += limit_ns;
    return false;
}

struct sound_host standin_host(void)
{
    return (struct sound_host){
        .context = NULL, .now_ns = clock_now, .sleep_ns = clock_sleep, .bounded = bounded, .threads = false};
}

double standin_now_s(void)
{
    return (double)(the.now_ns - 1000 * (uint64_t)NS) * 1e-9;
}

void standin_end(void)
{
    pthread_mutex_lock(&the.lock);
    the.release = 1;
    pthread_cond_broadcast(&the.changed);
    pthread_mutex_unlock(&the.lock);
    for (int i = 0; i < the.n_threads; i++)
        pthread_join(the.thread[i].thread, NULL);
    for (int i = 0; i < the.streams_ever; i++)
        free(the.stream[i]);
    if (!the.ever_blocked) {
        assert_int_equal(the.open_streams, 0);
        assert_int_equal(the.running, 0);
    }
    pthread_cond_destroy(&the.changed);
    pthread_mutex_destroy(&the.lock);
}

int standin_starts(void)
{
    return the.starts;
}

int standin_stop_calls(void)
{
    return the.stop_calls;
}

int standin_open_streams(void)
{
    return the.open_streams;
}

float standin_sample(uint64_t frame)
{
    return the.zeros ? 0.0f : (float)((int64_t)(frame % 8000000) - 4000000) / 8388608.0f;
}

void standin_feed(const float *samples, size_t n)
{
    the.feed = samples;
    the.n_feed = n;
}

/* ---- PortAudio: the list ---------------------------------------------------------------------- */

static struct device *device_at(int number)
{
    int l = the.current_list;
    return number >= 0 && number < the.n_devices[l] ? &the.list[l][number] : NULL;
}

PaError Pa_Initialize(void)
{
    if (the.init_blocks)
        block_for_ever();
    if (the.init_error)
        return the.init_error;
    if (the.running == 0) /* who starts it a second time gets the list of the first */
        the.current_list = the.starts > 0 && the.n_lists == 2 ? 1 : 0;
    the.starts++;
    the.running++;
    return paNoError;
}

PaError Pa_Terminate(void)
{
    the.running--;
    return paNoError;
}

const char *Pa_GetErrorText(PaError error)
{
    return error == paDeviceUnavailable ? "Device unavailable" : "some error";
}

const PaHostErrorInfo *Pa_GetLastHostErrorInfo(void)
{
    return NULL;
}

PaDeviceIndex Pa_GetDeviceCount(void)
{
    return the.running > 0 ? the.n_devices[the.current_list] : paNotInitialized;
}

PaDeviceIndex Pa_GetDefaultInputDevice(void)
{
    return the.default_device != -2              ? the.default_device
           : the.n_devices[the.current_list] > 0 ? 0
                                                 : paNoDevice;
}

PaDeviceIndex Pa_GetDefaultOutputDevice(void)
{
    if (the.default_output != -2)
        return the.default_output;
    for (int i = 0; i < the.n_devices[the.current_list]; i++)
        if (device_at(i)->outputs > 0)
            return i;
    return paNoDevice;
}

const PaDeviceInfo *Pa_GetDeviceInfo(PaDeviceIndex number)
{
    const struct device *d = device_at(number);
    if (!d)
        return NULL;
    the.info = (PaDeviceInfo){.structVersion = 2,
                              .name = d->name,
                              .hostApi = d->api,
                              .maxInputChannels = d->channels,
                              .maxOutputChannels = d->outputs,
                              .defaultSampleRate = d->rate_hz};
    return &the.info;
}

const PaHostApiInfo *Pa_GetHostApiInfo(PaHostApiIndex number)
{
    the.api = (PaHostApiInfo){.structVersion = 1, .name = number == 0 ? "ALSA" : "JACK"};
    return &the.api;
}

/* ---- PortAudio: the stream -------------------------------------------------------------------- */

PaError Pa_OpenStream(PaStream **stream, const PaStreamParameters *input, const PaStreamParameters *output,
                      double rate_hz, unsigned long block, PaStreamFlags flags, PaStreamCallback *callback,
                      void *user)
{
    (void)block;
    (void)user;
    const PaStreamParameters *way = input ? input : output;
    const struct device *d = device_at(way->device);
    int most = d && input ? d->channels : d ? d->outputs : 0;
    *stream = NULL;
    if (the.open_blocks)
        block_for_ever();
    /* how the program is meant to use it */
    assert_true(!input || !output);
    assert_true(callback == NULL);
    assert_int_equal(way->sampleFormat, paFloat32);
    assert_int_equal(flags, paClipOff | paDitherOff);
    if (!d || the.running < 1)
        return paInvalidDevice;
    if (d->open_error)
        return d->open_error;
    if (the.streams_ever > 0 && standin_now_s() < the.return_after_s)
        return paDeviceUnavailable;
    if (way->channelCount > most || (d->only_channels && way->channelCount != d->only_channels))
        return paInvalidChannelCount;
    if (d->only_rate_hz > 0.0 && (rate_hz < d->only_rate_hz || rate_hz > d->only_rate_hz))
        return paInvalidSampleRate;
    struct stream *s = calloc(1, sizeof *s);
    assert_non_null(s);
    s->device = way->device;
    s->plays = output != NULL;
    s->channels = way->channelCount;
    s->rate_hz = d->actual_rate_hz > 0.0 ? d->actual_rate_hz : rate_hz;
    assert_true(the.streams_ever < MAX_STREAMS);
    the.stream[the.streams_ever] = s;
    s->number = ++the.streams_ever;
    the.open_streams++;
    *stream = s;
    return paNoError;
}

const PaStreamInfo *Pa_GetStreamInfo(PaStream *stream)
{
    struct stream *s = stream;
    s->info = (PaStreamInfo){
        .structVersion = 1, .inputLatency = 0.1, .outputLatency = 0.1, .sampleRate = s->rate_hz};
    return &s->info;
}

PaError Pa_StartStream(PaStream *stream)
{
    struct stream *s = stream;
    const struct device *d = device_at(s->device);
    if (the.start_blocks)
        block_for_ever();
    if (d && d->start_error)
        return d->start_error;
    the.first_start_ns = the.first_start_ns ? the.first_start_ns : the.now_ns;
    if (s->start_ns == 0)
        s->world = (uint64_t)((double)(the.now_ns - the.first_start_ns) * 1e-9 * s->rate_hz + 0.5);
    /* real time went on while it stood still: what the card heard then is gone */
    if (s->base > 0 || s->taken > 0) {
        s->cured = 1;
        s->base += (uint64_t)((double)(the.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
        s->taken = 0;
        s->skipped = 0;
    }
    s->started = 1;
    s->start_ns = the.now_ns;
    return paNoError;
}

PaError Pa_StopStream(PaStream *stream)
{
    (void)stream;
    the.stop_calls++;
    if (the.stop_blocks)
        block_for_ever();
    return paNoError;
}

PaError Pa_AbortStream(PaStream *stream)
{
    struct stream *s = stream;
    if (the.abort_blocks)
        block_for_ever();
    s->started = 0;
    return paNoError;
}

PaError Pa_CloseStream(PaStream *stream)
{
    if (the.close_blocks)
        block_for_ever();
    struct stream *s = stream;
    assert_false(s->closed);
    s->closed = 1;
    the.open_streams--;
    return paNoError;
}

/* The card's frame that comes next. */
static uint64_t next_frame(const struct stream *s)
{
    return s->base + s->taken + s->skipped;
}

static uint64_t limit(const struct stream *s, uint64_t frame)
{
    double t_ns = (double)(the.now_ns - s->start_ns);
    if (s->number == 1 && frame > the.quiet_after)
        frame = the.quiet_after;
    if (!s->cured && frame > the.plug_stall)
        frame = the.plug_stall;
    if (frame > the.stall_at && t_ns * 1e-9 * s->rate_hz < (double)the.stall_at + the.stall_s * s->rate_hz)
        frame = the.stall_at;
    return frame;
}

static void apply_skips(struct stream *s, uint64_t until)
{
    for (int i = 0; i < the.n_skips; i++) {
        struct skip *skip = &the.skip[i];
        if (!skip->done && next_frame(s) >= skip->at && until >= skip->at + skip->frames) {
            skip->done = 1;
            s->skipped += skip->frames;
            s->flag = s->flag || !skip->silent;
        }
    }
}

/* Frames to the next hole: one read never goes across it. */
static uint64_t before_skip(const struct stream *s, uint64_t there)
{
    for (int i = 0; i < the.n_skips; i++)
        if (!the.skip[i].done && the.skip[i].at >= next_frame(s) && the.skip[i].at - next_frame(s) < there)
            there = the.skip[i].at - next_frame(s);
    return there;
}

static signed long available(struct stream *s)
{
    double heard = (double)(the.now_ns - s->start_ns) * 1e-9 * s->rate_hz * (1.0 + the.ppm * 1e-6);
    uint64_t until = s->base + (uint64_t)heard / the.block * the.block;
    until = limit(s, until);
    apply_skips(s, until);
    uint64_t next = next_frame(s);
    if (the.holds > 0 && until > next + the.holds) {
        s->skipped += until - next - the.holds;
        s->flag = 1;
        next = until - the.holds;
    }
    return until > next ? (signed long)before_skip(s, until - next) : 0;
}

signed long Pa_GetStreamReadAvailable(PaStream *stream)
{
    struct stream *s = stream;
    if (s->number == 1 && next_frame(s) >= the.error_after)
        return the.error;
    return s->started ? available(s) : 0;
}

static float sample_now(const struct stream *s)
{
    uint64_t world = s->world + next_frame(s);
    return !the.feed ? standin_sample(next_frame(s)) : world < the.n_feed ? the.feed[world] : 0.0f;
}

PaError Pa_ReadStream(PaStream *stream, void *buffer, unsigned long frames)
{
    struct stream *s = stream;
    float *out = buffer;
    /* the real one would hang here for ever */
    assert_true((signed long)frames <= available(s));
    for (unsigned long i = 0; i < frames; i++) {
        for (int c = 0; c < s->channels; c++)
            out[i * (unsigned long)s->channels + (unsigned long)c] = c == the.side ? sample_now(s) : 0.0f;
        s->taken++;
    }
    int flag = s->flag || the.flag_every;
    s->flag = 0;
    return flag ? paInputOverflowed : paNoError;
}

/* ---- PortAudio: playing ----------------------------------------------------------------------- */

static signed long room(const struct stream *s)
{
    uint64_t heard = (uint64_t)((double)(the.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
    uint64_t until = heard + the.room < the.deaf_after ? heard + the.room : the.deaf_after;
    if (!s->started)
        return 0;
    return until > s->taken ? (signed long)(until - s->taken < the.room ? until - s->taken : the.room) : 0;
}

signed long Pa_GetStreamWriteAvailable(PaStream *stream)
{
    struct stream *s = stream;
    assert_true(s->plays);
    return s->taken >= the.write_error_after ? the.write_error : room(s);
}

PaError Pa_WriteStream(PaStream *stream, const void *buffer, unsigned long frames)
{
    struct stream *s = stream;
    const float *in = buffer;
    uint64_t heard = (uint64_t)((double)(the.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
    /* the real one would hang here for ever */
    assert_true((signed long)frames <= room(s));
    int dry = s->taken > 0 && heard > s->taken;
    for (unsigned long i = 0; i < frames; i++) {
        for (int c = 1; c < s->channels; c++) {
            assert_memory_equal(&in[i * (unsigned long)s->channels + (unsigned long)c],
                                &in[i * (unsigned long)s->channels], sizeof *in);
        }
        assert_true(the.n_played < MAX_PLAYED);
        the.played[the.n_played++] = in[i * (unsigned long)s->channels];
    }
    s->taken += frames;
    return dry ? paOutputUnderflowed : paNoError;
}

uint64_t standin_played(void)
{
    return the.n_played;
}

float standin_played_sample(uint64_t frame)
{
    return frame < the.n_played ? the.played[frame] : 0.0f;
}
