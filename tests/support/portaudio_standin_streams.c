#include <stdlib.h>

#include "check.h"
#include "portaudio_standin.h"
#include "portaudio_standin_own.h"

float standin_sample(uint64_t frame)
{
    return standin.zeros ? 0.0f : (float)((int64_t)(frame % 8000000) - 4000000) / 8388608.0f;
}

void standin_feed(const float *samples, size_t n)
{
    standin.feed = samples;
    standin.n_feed = n;
}

void standin_free_streams(void)
{
    for (int i = 0; i < standin.streams_ever; i++)
        free(standin.stream[i]);
}

/* ---- PortAudio: the stream -------------------------------------------------------------------- */

PaError Pa_OpenStream(PaStream **stream, const PaStreamParameters *input, const PaStreamParameters *output,
                      double rate_hz, unsigned long block, PaStreamFlags flags, PaStreamCallback *callback,
                      void *user)
{
    (void)block;
    (void)user;
    const PaStreamParameters *way = input ? input : output;
    const struct device *d = standin_device(way->device);
    int most = d && input ? d->channels : d ? d->outputs : 0;
    *stream = NULL;
    if (standin.open_blocks)
        standin_block_for_ever();
    /* how the program is meant to use it */
    assert_true(!input || !output);
    assert_true(callback == NULL);
    assert_int_equal(way->sampleFormat, paFloat32);
    assert_int_equal(flags, paClipOff | paDitherOff);
    if (!d || standin.running < 1)
        return paInvalidDevice;
    if (d->open_error)
        return d->open_error;
    if (standin.streams_ever > 0 && standin_now_s() < standin.return_after_s)
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
    assert_true(standin.streams_ever < MAX_STREAMS);
    standin.stream[standin.streams_ever] = s;
    s->number = ++standin.streams_ever;
    standin.open_streams++;
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
    const struct device *d = standin_device(s->device);
    if (standin.start_blocks)
        standin_block_for_ever();
    if (d && d->start_error)
        return d->start_error;
    standin.first_start_ns = standin.first_start_ns ? standin.first_start_ns : standin.now_ns;
    if (s->start_ns == 0)
        s->world = (uint64_t)((double)(standin.now_ns - standin.first_start_ns) * 1e-9 * s->rate_hz + 0.5);
    /* real time went on while it stood still: what the card heard then is gone */
    if (s->base > 0 || s->taken > 0) {
        s->cured = true;
        s->base += (uint64_t)((double)(standin.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
        s->taken = 0;
        s->skipped = 0;
    }
    s->started = true;
    s->start_ns = standin.now_ns;
    return paNoError;
}

PaError Pa_StopStream(PaStream *stream)
{
    (void)stream;
    standin.stop_calls++;
    if (standin.stop_blocks)
        standin_block_for_ever();
    return paNoError;
}

PaError Pa_AbortStream(PaStream *stream)
{
    struct stream *s = stream;
    if (standin.abort_blocks)
        standin_block_for_ever();
    s->started = false;
    return paNoError;
}

PaError Pa_CloseStream(PaStream *stream)
{
    if (standin.close_blocks)
        standin_block_for_ever();
    struct stream *s = stream;
    assert_false(s->closed);
    s->closed = true;
    standin.open_streams--;
    return paNoError;
}

/* The card's frame that comes next. */
static uint64_t next_frame(const struct stream *s)
{
    return s->base + s->taken + s->skipped;
}

static uint64_t limit(const struct stream *s, uint64_t frame)
{
    double t_ns = (double)(standin.now_ns - s->start_ns);
    if (s->number == 1 && frame > standin.quiet_after)
        frame = standin.quiet_after;
    if (!s->cured && frame > standin.plug_stall)
        frame = standin.plug_stall;
    if (frame > standin.stall_at &&
        t_ns * 1e-9 * s->rate_hz < (double)standin.stall_at + standin.stall_s * s->rate_hz)
        frame = standin.stall_at;
    return frame;
}

static void apply_skips(struct stream *s, uint64_t until)
{
    for (int i = 0; i < standin.n_skips; i++) {
        struct skip *skip = &standin.skip[i];
        if (!skip->done && next_frame(s) >= skip->at && until >= skip->at + skip->frames) {
            skip->done = true;
            s->skipped += skip->frames;
            s->flag = s->flag || !skip->silent;
        }
    }
}

/* Frames to the next hole: one read never goes across it. */
static uint64_t before_skip(const struct stream *s, uint64_t there)
{
    for (int i = 0; i < standin.n_skips; i++)
        if (!standin.skip[i].done && standin.skip[i].at >= next_frame(s) &&
            standin.skip[i].at - next_frame(s) < there)
            there = standin.skip[i].at - next_frame(s);
    return there;
}

static signed long available(struct stream *s)
{
    double heard = (double)(standin.now_ns - s->start_ns) * 1e-9 * s->rate_hz * (1.0 + standin.ppm * 1e-6);
    uint64_t until = s->base + (uint64_t)heard / standin.block * standin.block;
    until = limit(s, until);
    apply_skips(s, until);
    uint64_t next = next_frame(s);
    if (standin.holds > 0 && until > next + standin.holds) {
        s->skipped += until - next - standin.holds;
        s->flag = true;
        next = until - standin.holds;
    }
    return until > next ? (signed long)before_skip(s, until - next) : 0;
}

signed long Pa_GetStreamReadAvailable(PaStream *stream)
{
    struct stream *s = stream;
    if (s->number == 1 && next_frame(s) >= standin.error_after)
        return standin.error;
    return s->started ? available(s) : 0;
}

static float sample_now(const struct stream *s)
{
    uint64_t world = s->world + next_frame(s);
    return !standin.feed            ? standin_sample(next_frame(s))
           : world < standin.n_feed ? standin.feed[world]
                                    : 0.0f;
}

PaError Pa_ReadStream(PaStream *stream, void *buffer, unsigned long frames)
{
    struct stream *s = stream;
    float *out = buffer;
    /* the real one would hang here for ever */
    assert_true((signed long)frames <= available(s));
    for (unsigned long i = 0; i < frames; i++) {
        for (int c = 0; c < s->channels; c++)
            out[i * (unsigned long)s->channels + (unsigned long)c] = c == standin.side ? sample_now(s) : 0.0f;
        s->taken++;
    }
    bool flag = s->flag || standin.flag_every;
    s->flag = false;
    return flag ? paInputOverflowed : paNoError;
}

/* ---- PortAudio: playing ----------------------------------------------------------------------- */

static signed long room(const struct stream *s)
{
    uint64_t heard = (uint64_t)((double)(standin.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
    uint64_t until = heard + standin.room < standin.deaf_after ? heard + standin.room : standin.deaf_after;
    if (!s->started)
        return 0;
    return until > s->taken ? (signed long)(until - s->taken < standin.room ? until - s->taken : standin.room)
                            : 0;
}

signed long Pa_GetStreamWriteAvailable(PaStream *stream)
{
    struct stream *s = stream;
    assert_true(s->plays);
    return s->taken >= standin.write_error_after ? standin.write_error : room(s);
}

PaError Pa_WriteStream(PaStream *stream, const void *buffer, unsigned long frames)
{
    struct stream *s = stream;
    const float *in = buffer;
    uint64_t heard = (uint64_t)((double)(standin.now_ns - s->start_ns) * 1e-9 * s->rate_hz);
    /* the real one would hang here for ever */
    assert_true((signed long)frames <= room(s));
    bool dry = s->taken > 0 && heard > s->taken;
    for (unsigned long i = 0; i < frames; i++) {
        for (int c = 1; c < s->channels; c++) {
            assert_memory_equal(&in[i * (unsigned long)s->channels + (unsigned long)c],
                                &in[i * (unsigned long)s->channels], sizeof *in);
        }
        assert_true(standin.n_played < MAX_PLAYED);
        standin.played[standin.n_played++] = in[i * (unsigned long)s->channels];
    }
    s->taken += frames;
    return dry ? paOutputUnderflowed : paNoError;
}

uint64_t standin_played(void)
{
    return standin.n_played;
}

float standin_played_sample(uint64_t frame)
{
    return frame < standin.n_played ? standin.played[frame] : 0.0f;
}
