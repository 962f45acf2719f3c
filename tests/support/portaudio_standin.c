#include "portaudio_standin.h"

#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "portaudio_standin_own.h"

struct standin standin;

/* ---- begin and end ------------------------------------------------------------------------------ */

void standin_begin(const char *script)
{
    memset(&standin, 0, sizeof standin);
    pthread_mutex_init(&standin.lock, NULL);
    pthread_cond_init(&standin.changed, NULL);
    standin.n_lists = 1;
    standin.block = 480;
    standin.default_device = standin.default_output = -2;
    standin.room = 4800;
    standin.deaf_after = standin.write_error_after = UINT64_MAX;
    standin.quiet_after = standin.error_after = standin.plug_stall = standin.stall_at = UINT64_MAX;
    standin.now_ns = 1000 * (uint64_t)NS;
    standin_read_script(script);
}

void standin_end(void)
{
    pthread_mutex_lock(&standin.lock);
    standin.release = true;
    pthread_cond_broadcast(&standin.changed);
    pthread_mutex_unlock(&standin.lock);
    for (int i = 0; i < standin.n_threads; i++)
        pthread_join(standin.thread[i].thread, NULL);
    standin_free_streams();
    if (!standin.ever_blocked) {
        assert_int_equal(standin.open_streams, 0);
        assert_int_equal(standin.running, 0);
    }
    pthread_cond_destroy(&standin.changed);
    pthread_mutex_destroy(&standin.lock);
}

/* ---- clock and blocking ----------------------------------------------------------------------- */

static uint64_t clock_now(void *context)
{
    (void)context;
    return standin.now_ns;
}

static void clock_sleep(void *context, uint64_t ns)
{
    (void)context;
    standin.now_ns += ns;
}

void standin_block_for_ever(void)
{
    pthread_mutex_lock(&standin.lock);
    standin.blocked++;
    standin.ever_blocked = true;
    pthread_cond_broadcast(&standin.changed);
    while (!standin.release)
        pthread_cond_wait(&standin.changed, &standin.lock);
    pthread_mutex_unlock(&standin.lock);
}

static void *run(void *own)
{
    struct standin_thread *t = own;
    t->work(t->job);
    pthread_mutex_lock(&standin.lock);
    t->done = true;
    bool left = t->left;
    pthread_cond_broadcast(&standin.changed);
    pthread_mutex_unlock(&standin.lock);
    if (left)
        free(t->job);
    return NULL;
}

static bool bounded(void *context, void (*work)(void *job), void *job, uint64_t limit_ns)
{
    (void)context;
    assert_true(standin.n_threads < MAX_THREADS);
    struct standin_thread *t = &standin.thread[standin.n_threads];
    int before = standin.blocked;
    *t = (struct standin_thread){.work = work, .job = job};
    assert_int_equal(pthread_create(&t->thread, NULL, run, t), 0);
    pthread_mutex_lock(&standin.lock);
    while (!t->done && standin.blocked == before)
        pthread_cond_wait(&standin.changed, &standin.lock);
    bool done = t->done;
    t->left = !done;
    pthread_mutex_unlock(&standin.lock);
    if (done) {
        pthread_join(t->thread, NULL);
        return true;
    }
    standin.n_threads++; /* joined at the end */
    standin.now_ns += limit_ns;
    return false;
}

struct sound_host standin_host(void)
{
    return (struct sound_host){
        .context = NULL, .now_ns = clock_now, .sleep_ns = clock_sleep, .bounded = bounded, .threads = false};
}

double standin_now_s(void)
{
    return (double)(standin.now_ns - 1000 * (uint64_t)NS) * 1e-9;
}

int standin_starts(void)
{
    return standin.starts;
}

int standin_stop_calls(void)
{
    return standin.stop_calls;
}

int standin_open_streams(void)
{
    return standin.open_streams;
}

/* ---- PortAudio: the list ---------------------------------------------------------------------- */

struct device *standin_device(int number)
{
    int l = standin.current_list;
    return number >= 0 && number < standin.n_devices[l] ? &standin.list[l][number] : NULL;
}

PaError Pa_Initialize(void)
{
    if (standin.init_blocks)
        standin_block_for_ever();
    if (standin.init_error)
        return standin.init_error;
    if (standin.running == 0) /* who starts it a second time gets the list of the first */
        standin.current_list = standin.starts > 0 && standin.n_lists == 2 ? 1 : 0;
    standin.starts++;
    standin.running++;
    return paNoError;
}

PaError Pa_Terminate(void)
{
    standin.running--;
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
    return standin.running > 0 ? standin.n_devices[standin.current_list] : paNotInitialized;
}

PaDeviceIndex Pa_GetDefaultInputDevice(void)
{
    return standin.default_device != -2                  ? standin.default_device
           : standin.n_devices[standin.current_list] > 0 ? 0
                                                         : paNoDevice;
}

PaDeviceIndex Pa_GetDefaultOutputDevice(void)
{
    if (standin.default_output != -2)
        return standin.default_output;
    for (int i = 0; i < standin.n_devices[standin.current_list]; i++)
        if (standin_device(i)->outputs > 0)
            return i;
    return paNoDevice;
}

const PaDeviceInfo *Pa_GetDeviceInfo(PaDeviceIndex number)
{
    const struct device *d = standin_device(number);
    if (!d)
        return NULL;
    standin.info = (PaDeviceInfo){.structVersion = 2,
                                  .name = d->name,
                                  .hostApi = d->api,
                                  .maxInputChannels = d->channels,
                                  .maxOutputChannels = d->outputs,
                                  .defaultSampleRate = d->rate_hz};
    return &standin.info;
}

const PaHostApiInfo *Pa_GetHostApiInfo(PaHostApiIndex number)
{
    standin.api = (PaHostApiInfo){.structVersion = 1, .name = number == 0 ? "ALSA" : "JACK"};
    return &standin.api;
}
