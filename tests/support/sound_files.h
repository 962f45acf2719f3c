/* Sound files that tests write byte by byte, and what a file source reads out of them. */
#ifndef THRUM_TEST_SOUND_FILES_H
#define THRUM_TEST_SOUND_FILES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "sound/source.h"
#include "wav_bytes.h"

#define SF_FRAMES 24000u
#define SF_RATE   48000u

/* A folder of its own, a path in it, and half a second of noise: no two stretches are alike. */
struct sf_fixture {
    char folder[200];
    char path[300];
    short pcm[SF_FRAMES];
};

/* For cmocka, with wb_fixture_remove(): *state is the fixture. */
int sf_set_up(void **state);

struct sf_heard {
    float *samples;
    size_t frames;
    int channels;
    double rate_hz;
    char note[256];
    enum thrum_source_event last;
};

/* Reads to the end and closes the source; h->samples is malloc'ed. */
void sf_hear(struct thrum_source *source, struct sf_heard *h);
void sf_hear_file(const char *path, struct sf_heard *h);

/* The samples of the fixture's sound, from its first frame on, exactly. */
void sf_assert_is_pcm(const struct sf_fixture *f, const struct sf_heard *h, size_t frames);

/* RIFF, fmt, data with the given sizes; returns where the data size stands. */
size_t sf_plain_wav(const struct sf_fixture *f, struct wav_bytes *w, uint32_t riff, uint32_t data);

/* Saved, it reads as the fixture's first frames, with that in its note; NULL: without one. */
void sf_save_and_check(struct sf_fixture *f, struct wav_bytes *w, size_t frames, const char *note);

/* Saved, it is refused with these words; returns how. */
enum thrum_status sf_refused(struct sf_fixture *f, struct wav_bytes *w, const char *words);

/* Cue points at these frames, with labels and lengths, n of them. */
void sf_put_cue(struct wav_bytes *w, const uint32_t *frame, const char *const *label, const uint32_t *length,
                size_t n);

/* The fixture's sound as a float file, times a factor, but for one sample. */
void sf_float_wav(const struct sf_fixture *f, struct wav_bytes *w, float factor, size_t wild_at, float wild);

/* The fixture's sound by libsndfile; false where that does not know the format. */
bool sf_write_by_library(const struct sf_fixture *f, const char *path, int format);

#endif
