/* A stand-in for PortAudio: a test that calls anything here is linked with it in place of the real library.
 *
 * Driven by a script, one line per fact or fault. Time is virtual: nothing waits, a blocked call is known at once.
 *
 *   device NAME            begins a device; the lines api, channels, rate, only_channels, only_rate, actual_rate,
 *                          open_error, start_error that follow belong to it
 *   outputs N              the device also plays, on N channels (default 0: it does not)
 *   room F                 an output takes no more than F frames ahead of what it has played (default 4800)
 *   deaf_after F           an output has no more room after frame F, without any error
 *   write_error_after F E  writing gives error E from frame F on
 *   default N              number of the default input; without it 0, or -1 when there are no devices
 *   default_output N       number of the default output; without it the first that plays
 *   relist                 the devices that follow are the list from the next start of PortAudio on
 *   init_error E | init_blocks | open_blocks | start_blocks | stop_blocks | abort_blocks | close_blocks
 *   block N                frames come N at a time (default 480)
 *   zeros                  all samples are 0; else each tells its frame: see standin_sample()
 *   side N                 the sound is on channel N, from 0; the others are silent (default 0)
 *   ppm X                  the card's clock is off
 *   flag_every             every block is flagged as overflowed, nothing is missing
 *   skip F N               at frame F N frames are lost, with the flag; skip_silent F N: without it
 *   holds N                the card keeps N frames; what is fetched later than that is lost, with the flag
 *   quiet_after F          no more frames after F, no error (first stream only)
 *   error_after F E        reading gives error E from frame F on (first stream only)
 *   plug_stall F           no more frames after F until the stream is stopped and started
 *   return_after S         after the first stream the device cannot be opened again before S seconds
 *   stall F S              after frame F nothing for S seconds, then all of it at once
 */
#ifndef THRUM_TEST_PORTAUDIO_STANDIN_H
#define THRUM_TEST_PORTAUDIO_STANDIN_H

#include <stddef.h>
#include <stdint.h>

#include "sound/host.h"

/* Forgets everything and reads a script; a line it does not know fails the test. */
void standin_begin(const char *script);

/* Lets every blocked call return and waits for its thread. Fails the test when a stream or PortAudio itself was left
 * open, unless a call had blocked. */
void standin_end(void);

/* The virtual clock, and threads only for calls that may block. */
struct sound_host standin_host(void);
double standin_now_s(void);

/* What frame `frame` of the card sounds like on the first channel: n / 2^23, no two of a minute alike. */
float standin_sample(uint64_t frame);

/* What sounds in the world from the first start of a stream on, in place of that; silence after its end. It goes on while
 * no stream listens. Kept by the caller; call it after standin_begin(). */
void standin_feed(const float *samples, size_t n);

/* What an output was given on its first channel so far: frames, and one of them. */
uint64_t standin_played(void);
float standin_played_sample(uint64_t frame);

/* How often PortAudio was started, and Pa_StopStream (which blocks in the field) was called. */
int standin_starts(void);
int standin_stop_calls(void);
int standin_open_streams(void);

#endif
