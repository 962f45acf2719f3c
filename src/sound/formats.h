/* What the sound libraries that this program runs with can do. */
#ifndef THRUM_SOUND_FORMATS_H
#define THRUM_SOUND_FORMATS_H

#include <stdbool.h>
#include <stddef.h>

/* "WAV, W64, ... FLAC": the kinds of sound files the library knows; cut where it does not fit. Nothing is opened. */
void sound_formats(char *text, size_t size);

/* Whether a recording can be copied to FLAC. */
bool sound_formats_flac(void);

/* "libsndfile-1.2.0, PortAudio V19.6.0-devel": the sound system is not started. */
void sound_libraries(char *text, size_t size);

#endif
