/* One PortAudio stream, in or out, opened without a callback. Every call that can hang goes through the host's time limit.
 *
 * Measured with PortAudio 19.6: this pattern, read only by what Pa_GetStreamReadAvailable says, never blocked in any
 * fault; Pa_AbortStream returns where Pa_StopStream does not.
 */
#ifndef THRUM_SOUND_PA_STREAM_H
#define THRUM_SOUND_PA_STREAM_H

#include <portaudio.h>
#include <stdbool.h>
#include <stdint.h>

#include "sound/host.h"
#include "sound/inputs.h"

#define PA_LIMIT_INIT_NS  10000000000u
#define PA_LIMIT_OPEN_NS  5000000000u
#define PA_LIMIT_CLOSE_NS 2000000000u
#define PA_LIMIT_KICK_NS  500000000u

struct pa_stream {
    PaStream *stream; /* NULL: none */
    double rate_hz;   /* as really delivered */
    int channels;
    bool running; /* Pa_Initialize was done and Pa_Terminate was not */
    bool hung;    /* a call never came back: PortAudio must not be ended any more */
};

enum pa_result { PA_DONE, PA_REFUSED, PA_BUSY, PA_HANGS };

/* Starts PortAudio anew, ending it first if it runs: only so does it look for new devices. */
enum pa_result pa_stream_begin(const struct sound_host *host, struct pa_stream *s, struct thrum_message *why);

/* Opens and starts. rate_hz, channels: exactly those when not 0, else what fits best. */
enum pa_result pa_stream_open(const struct sound_host *host, struct pa_stream *s, int device,
                              const struct thrum_input *input, double rate_hz, int channels,
                              struct thrum_message *why);

/* The same for an output, one or two channels. latency_s: wanted; 0 as the device likes, within limits. */
enum pa_result pa_stream_open_output(const struct sound_host *host, struct pa_stream *s, int device,
                                     const struct thrum_input *output, double rate_hz, double latency_s,
                                     struct thrum_message *why);

/* Stops and starts an open stream. Needed because a stream through an ALSA plug that has overrun never moves again by
 * itself, without any error. Half a second at most. */
enum pa_result pa_stream_kick(const struct sound_host *host, struct pa_stream *s);

/* Aborts and closes within two seconds, else leaves it to itself. */
void pa_stream_close(const struct sound_host *host, struct pa_stream *s);

/* Closes and ends PortAudio, all within about two seconds. */
void pa_stream_end(const struct sound_host *host, struct pa_stream *s);

#endif
