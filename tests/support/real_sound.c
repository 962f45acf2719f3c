#include "real_sound.h"

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>

#include "check.h"
#include "learned_from.h"
#include "thrum/listen.h"

const char *real_folder(void)
{
    const char *folder = getenv("THRUM_REAL_SOUND");
    if (!folder || !folder[0])
        puts("THRUM_REAL_SOUND is not set: skipped");
    return folder && folder[0] ? folder : NULL;
}

static void keep_first(struct real_sound *sound)
{
    for (size_t i = 0; i < sound->n; i++)
        sound->x[i] = sound->x[i * (size_t)sound->channels];
    sound->channels = 1;
}

struct real_sound real_read(const char *folder, const char *name, double from_s, double length_s,
                            bool first_only)
{
    char path[1024];
    SF_INFO info = {0};
    snprintf(path, sizeof path, "%s/%s", folder, name);
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file) {
        print_message("%s: %s\n", path, sf_strerror(NULL));
        fail();
    }
    sf_count_t from = (sf_count_t)(from_s * info.samplerate), most = (sf_count_t)(length_s * info.samplerate);
    assert_true(from <= info.frames && sf_seek(file, from, SEEK_SET) == from);
    most = most < info.frames - from ? most : info.frames - from;
    struct real_sound sound = {.x = calloc((size_t)(most * info.channels) + 1, sizeof *sound.x),
                               .channels = info.channels,
                               .rate_hz = info.samplerate};
    assert_non_null(sound.x);
    sound.n = (size_t)sf_readf_float(file, sound.x, most);
    sf_close(file);
    assert_int_equal(sound.n, most);
    if (first_only)
        keep_first(&sound);
    return sound;
}

struct thrum_learned real_learn(const char *folder, const char *name, double from_s, double length_s)
{
    struct real_sound sound = real_read(folder, name, from_s, length_s, false);
    struct thrum_learned learned = learned_from(sound.x, sound.n, sound.rate_hz, sound.channels);
    free(sound.x);
    return learned;
}

struct thrum_reading real_measure(const float *x, size_t n, double rate_hz, const struct thrum_voice *voices,
                                  int n_voices)
{
    struct thrum_listener_config config = {
        .rate_hz = rate_hz, .channels = 1, .channel = -1, .n_voices = n_voices};
    struct thrum_listener *listener;
    struct thrum_reading reading;
    for (int i = 0; i < n_voices; i++)
        config.voice[i] = voices[i];
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    thrum_listener_feed(listener, x, n);
    thrum_listener_finish(listener);
    assert_int_equal(thrum_listener_measure(listener, (struct thrum_span){0, n}, &reading), THRUM_OK);
    thrum_listener_destroy(listener);
    return reading;
}
