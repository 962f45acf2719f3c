/* What a file is, told by its first bytes, never by its name. */
#ifndef THRUM_SOUND_SNIFF_H
#define THRUM_SOUND_SNIFF_H

#include <stddef.h>

enum sniffed {
    SNIFF_UNKNOWN,
    SNIFF_EMPTY,
    SNIFF_WAV,     /* RIFF, RIFX, RF64, BW64 with WAVE */
    SNIFF_STREAMS, /* FLAC, AU, AIFF: can be read from a pipe as it comes */
    SNIFF_SEEKS,   /* readable, from a file only: Ogg, MP3, CAF, W64 ... */
    SNIFF_CONVERT  /* known, not readable here */
};

#define SNIFF_BYTES 64

/* what: for SNIFF_CONVERT, the name of the format for a message; static storage. */
enum sniffed sniff(const unsigned char *head, size_t size, const char **what);

#endif
