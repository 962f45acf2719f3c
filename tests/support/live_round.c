#include "live_round.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/command.h"
#include "portaudio_standin.h"
#include "sound/device_source.h"
#include "wav_bytes.h"

int live_set_up(void **state)
{
    return wb_fixture_make(state, sizeof(struct live_round));
}

void live_open_intake(struct live_round *f, const char *script)
{
    struct intake_config config = {.from = "device:"};
    struct thrum_message message;
    struct sound_host host = standin_host();
    standin_begin(script);
    if (device_source_open(&host, NULL, &config.source, &message) != THRUM_OK ||
        intake_open(&config, &f->intake, &message) != CODE_DONE)
        fail_msg("%s", message.text);
}

void live_open_session(struct live_round *f, const struct thrum_voice *voice, bool hands_free)
{
    struct thrum_message message;
    struct thrum_recorder_config recorder = {
        .folder = f->folder, .stem = "r", .rate_hz = LIVE_RATE, .channels = 1, .about = "{}"};
    struct session_config config = {
        .intake = f->intake, .voices = voice, .n_voices = 1, .hands_free = hands_free, .block = LIVE_BLOCK};
    assert_int_equal(thrum_recorder_create(&recorder, &config.recorder, &message), THRUM_OK);
    assert_int_equal(session_create(&config, &f->session, &message), CODE_DONE);
    snprintf(f->path, sizeof f->path, "%s/r.wav", f->folder);
}

void live_end(struct live_round *f)
{
    session_destroy(f->session);
    intake_close(f->intake);
    standin_end();
}

void live_read_for(struct live_round *f, double seconds)
{
    struct thrum_source_block block;
    for (double until_s = standin_now_s() + seconds; standin_now_s() < until_s;)
        intake_read(f->intake, LIVE_BLOCK, &block);
}

void live_run_for(struct live_round *f, double seconds, struct live_log *log)
{
    struct thrum_message message;
    for (double until_s = standin_now_s() + seconds; standin_now_s() < until_s;) {
        double at_s = standin_now_s();
        enum session_state state = session_step(f->session, &message);
        log->away_s += state == SESSION_LOST_INPUT ? standin_now_s() - at_s : 0.0;
        if (message.text[0])
            log->said = message;
        if (state == SESSION_LOST_INPUT && log->state != state)
            log->lost_s = log->lost++ == 0 ? standin_now_s() : log->lost_s;
        log->back += strstr(message.text, "is back") ? 1 : 0;
        log->state = state;
        if (state == SESSION_ENDED)
            return;
    }
}

int *live_read_all(const char *path, size_t *n)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.channels, 1);
    int *samples = malloc(sizeof *samples * (size_t)(info.frames + 1));
    assert_non_null(samples);
    *n = (size_t)sf_readf_int(file, samples, info.frames);
    assert_int_equal(*n, info.frames);
    sf_close(file);
    return samples;
}

int live_in_24_bits(float sample)
{
    return (int)lrint((double)sample * 0x1p23) * 256;
}
