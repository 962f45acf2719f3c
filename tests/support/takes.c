#include "takes.h"

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "check.h"
#include "wav_bytes.h"

int take_set_up(void **state)
{
    return wb_fixture_make(state, sizeof(struct take_fixture));
}

struct thrum_recorder *take_begin(const struct take_fixture *f, const char *stem, int channels)
{
    struct thrum_recorder_config config = {.folder = f->folder,
                                           .stem = stem,
                                           .rate_hz = TAKE_RATE,
                                           .channels = channels,
                                           .about = "{\"zone\":7}"};
    struct thrum_recorder *r = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_recorder_create(&config, &r, &message);
    if (status != THRUM_OK)
        fail_msg("%s", message.text);
    return r;
}

void take_end(struct thrum_recorder *r)
{
    struct thrum_message message;
    if (thrum_recorder_close(r, &message) != THRUM_OK)
        fail_msg("%s", message.text);
}

/* A value that tells its frame: n / 2^23, exact in 24 bits. */
float take_sample(uint64_t frame)
{
    return (float)((int64_t)(frame % 8000000) - 4000000) / 8388608.0f;
}

enum thrum_status take_write(struct thrum_recorder *r, uint64_t first, size_t n,
                             struct thrum_message *message)
{
    float block[4096];
    enum thrum_status status = THRUM_OK;
    while (n > 0 && status == THRUM_OK) {
        size_t take = n < 4096 ? n : 4096;
        for (size_t i = 0; i < take; i++)
            block[i] = take_sample(first + i);
        status = thrum_recorder_write(r, block, take, message);
        first += take;
        n -= take;
    }
    return status;
}

/* By the library of the distribution, not by our reader. Returns the frames; each must be its number + first. */
uint64_t take_check(const char *path, uint64_t first)
{
    SF_INFO info = {.format = 0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    int block[4096];
    uint64_t frames = 0;
    uint64_t wrong = 0;
    sf_count_t got;
    while ((got = sf_readf_int(file, block, 4096)) > 0)
        for (sf_count_t i = 0; i < got; i++, frames++)
            wrong += block[i] / 256 != (int)((int64_t)((first + frames) % 8000000) - 4000000) ? 1 : 0;
    assert_int_equal(info.frames, frames);
    assert_int_equal(wrong, 0);
    sf_close(file);
    return frames;
}

bool take_exists(const char *path)
{
    struct stat about;
    return lstat(path, &about) == 0;
}

long take_size(const char *path)
{
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    return (long)about.st_size;
}

uint32_t take_u32_at(const char *path, long at)
{
    unsigned char b[4];
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_int_equal(fread(b, 1, 4, file), 4);
    fclose(file);
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 | b[0];
}

/* What the data chunk's header says. */
uint32_t take_data_size(const char *path)
{
    long at = 12;
    while (take_u32_at(path, at) != 0x61746164u) /* "data" */
        at += 8 + (long)take_u32_at(path, at + 4);
    return take_u32_at(path, at + 4);
}

void take_assert_marks(const char *path, const struct thrum_mark *want, size_t n)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    struct thrum_mark got[16];
    if (thrum_source_open_file(path, &source, &message) != THRUM_OK)
        fail_msg("%s", message.text);
    assert_int_equal(thrum_source_marks(source, got, 16), n);
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(got[i].first, want[i].first);
        assert_int_equal(got[i].end, want[i].end);
        assert_string_equal(got[i].label, want[i].label);
    }
    thrum_source_close(source);
}
