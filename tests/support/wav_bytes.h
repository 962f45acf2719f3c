/* WAV files built byte by byte for tests, right or wrong on purpose; knows nothing of src/sound. */
#ifndef THRUM_TEST_WAV_BYTES_H
#define THRUM_TEST_WAV_BYTES_H

#include <stddef.h>
#include <stdint.h>

struct wav_bytes {
    unsigned char *data;
    size_t size;
    size_t room;
};

void wb_free(struct wav_bytes *w);
void wb_put(struct wav_bytes *w, const void *data, size_t size);
void wb_zeros(struct wav_bytes *w, size_t size);
void wb_u16(struct wav_bytes *w, unsigned value);
void wb_u32(struct wav_bytes *w, uint32_t value);
void wb_u64(struct wav_bytes *w, uint64_t value);
void wb_id(struct wav_bytes *w, const char *id); /* four letters */

/* "RIFF" size "WAVE" */
void wb_riff(struct wav_bytes *w, const char *id, uint32_t size);

/* A fmt chunk of 16 bytes. coding 1 = PCM, 3 = float. */
void wb_fmt(struct wav_bytes *w, unsigned coding, unsigned channels, uint32_t rate_hz, unsigned bits);

/* Overwrites a 32-bit number at an offset. */
void wb_patch32(struct wav_bytes *w, size_t at, uint32_t value);

/* A new folder for a test's files (under TMPDIR or /tmp); removed with everything in it by wb_folder_remove(). */
void wb_folder_make(char *folder, size_t size);
void wb_folder_remove(const char *folder);

/* For cmocka: *state is zeroed memory of so many bytes that begins with such a folder's name, char [WB_FOLDER]. */
#define WB_FOLDER 200
int wb_fixture_make(void **state, size_t bytes);
int wb_fixture_remove(void **state);

/* Writes the bytes to folder/name; path gets the whole name. */
void wb_save(const struct wav_bytes *w, const char *folder, const char *name, char *path, size_t path_size);

#endif
