/* The end of a WAV file of ours: cut to whole frames, sizes set right. */
#ifndef THRUM_SOUND_WAV_FIX_H
#define THRUM_SOUND_WAV_FIX_H

#include <stddef.h>
#include <stdint.h>

#include "sound/wav_walk.h"

/* Cuts the file behind its last whole frame (at most `frames` of them) and sets both sizes. fd stays open.
 * 0 or errno. Only overwrites and shortens, so it works on a full disk. */
int wav_fix_end(int fd, uint64_t frames);

/* Little-endian. */
void wav_put32(unsigned char *p, uint32_t value);

/* The whole of it, or an errno value. */
int wav_write_at(int fd, const unsigned char *data, size_t size, int64_t at);

/* One of the 32-bit sizes of the format. 0 or errno. */
int wav_set_size(int fd, int64_t at, int64_t size);

/* Walks the file behind fd without taking fd over; *size is that of the file. 0 or errno. */
int wav_look(int fd, struct wav_layout *layout, int64_t *size);

#endif
