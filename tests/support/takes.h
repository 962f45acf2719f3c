/* Recordings made by tests, of samples that tell their frame; read back by the library of the distribution, not by our reader. */
#ifndef THRUM_TEST_TAKES_H
#define THRUM_TEST_TAKES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "sound/recorder.h"

#define TAKE_RATE 48000.0
/* What a recording's first part says of itself. */
#define TAKE_ABOUT "{\"zone\":7,\"part\":1,\"first_frame\":0}"

struct take_fixture {
    char folder[200];
    char path[400];
};

/* For cmocka, with wb_fixture_remove(). */
int take_set_up(void **state);

/* Begins and ends a recording in the fixture's folder; fails the test where that fails. */
struct thrum_recorder *take_begin(const struct take_fixture *f, const char *stem, int channels);
void take_end(struct thrum_recorder *r);

/* A value that tells its frame: n / 2^23, exact in 24 bits. */
float take_sample(uint64_t frame);

/* Records n of them, in blocks. */
enum thrum_status take_write(struct thrum_recorder *r, uint64_t first, size_t n,
                             struct thrum_message *message);

/* Returns the frames of a file; each must be its number + first. */
uint64_t take_check(const char *path, uint64_t first);

bool take_exists(const char *path);
long take_size(const char *path);
uint32_t take_u32_at(const char *path, long at);

/* What the data chunk's header says. */
uint32_t take_data_size(const char *path);

/* The file has these marks, and no others. */
void take_assert_marks(const char *path, const struct thrum_mark *want, size_t n);

#endif
