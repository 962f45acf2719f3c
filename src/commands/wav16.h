/* Writing a 16-bit WAV file, mono: practice recordings are like those of an everyday recorder. */
#ifndef THRUM_WAV16_H
#define THRUM_WAV16_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

struct wav16 {
    FILE *file;
    uint32_t rate_hz;
    uint32_t frames;
};

/* A new file; one that is there already is replaced only when asked (a device: written into). 0 or an errno value (EEXIST: it is there). */
int wav16_open(const char *path, double rate_hz, bool replace, struct wav16 *wav);

/* Limits to full scale and rounds. 0 or errno. */
int wav16_write(struct wav16 *wav, const float *samples, size_t n_frames);

/* Completes the header and closes. 0 or errno. */
int wav16_close(struct wav16 *wav);

/* Takes a closed file away that could not be finished; what is no plain file stays. */
void wav16_abandon(const char *path);

#endif
