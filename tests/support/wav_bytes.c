#include "wav_bytes.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"

void wb_free(struct wav_bytes *w)
{
    free(w->data);
    memset(w, 0, sizeof *w);
}

void wb_put(struct wav_bytes *w, const void *data, size_t size)
{
    if (w->size + size > w->room) {
        w->room = (w->size + size) * 2 + 64;
        w->data = realloc(w->data, w->room);
        assert_non_null(w->data);
    }
    if (data)
        memcpy(w->data + w->size, data, size);
    else
        memset(w->data + w->size, 0, size);
    w->size += size;
}

void wb_zeros(struct wav_bytes *w, size_t size)
{
    wb_put(w, NULL, size);
}

static void put_number(struct wav_bytes *w, uint64_t value, int bytes)
{
    unsigned char b[8];
    for (int i = 0; i < bytes; i++)
        b[i] = (unsigned char)(value >> (8 * i));
    wb_put(w, b, (size_t)bytes);
}

void wb_u16(struct wav_bytes *w, unsigned value)
{
    put_number(w, value, 2);
}

void wb_u32(struct wav_bytes *w, uint32_t value)
{
    put_number(w, value, 4);
}

void wb_u64(struct wav_bytes *w, uint64_t value)
{
    put_number(w, value, 8);
}

void wb_id(struct wav_bytes *w, const char *id)
{
    wb_put(w, id, 4);
}

void wb_riff(struct wav_bytes *w, const char *id, uint32_t size)
{
    wb_id(w, id);
    wb_u32(w, size);
    wb_id(w, "WAVE");
}

void wb_fmt(struct wav_bytes *w, unsigned coding, unsigned channels, uint32_t rate_hz, unsigned bits)
{
    unsigned frame = channels * ((bits + 7) / 8);
    wb_id(w, "fmt ");
    wb_u32(w, 16);
    wb_u16(w, coding);
    wb_u16(w, channels);
    wb_u32(w, rate_hz);
    wb_u32(w, rate_hz * frame);
    wb_u16(w, frame);
    wb_u16(w, bits);
}

void wb_patch32(struct wav_bytes *w, size_t at, uint32_t value)
{
    assert_true(at + 4 <= w->size);
    for (int i = 0; i < 4; i++)
        w->data[at + (size_t)i] = (unsigned char)(value >> (8 * i));
}

void wb_folder_make(char *folder, size_t size)
{
    const char *base = getenv("TMPDIR");
    snprintf(folder, size, "%s/thrum-test-XXXXXX", base && base[0] ? base : "/tmp");
    assert_non_null(mkdtemp(folder));
}

void wb_folder_remove(const char *folder)
{
    DIR *d = opendir(folder);
    const struct dirent *entry;
    while (d && (entry = readdir(d)) != NULL) {
        char path[1024];
        struct stat about;
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (lstat(path, &about) == 0 && S_ISDIR(about.st_mode))
            wb_folder_remove(path);
        else
            unlink(path);
    }
    if (d)
        closedir(d);
    rmdir(folder);
}

int wb_fixture_make(void **state, size_t bytes)
{
    char *fixture = calloc(1, bytes);
    assert_non_null(fixture);
    wb_folder_make(fixture, WB_FOLDER);
    *state = fixture;
    return 0;
}

int wb_fixture_remove(void **state)
{
    wb_folder_remove(*state);
    free(*state);
    return 0;
}

void wb_save(const struct wav_bytes *w, const char *folder, const char *name, char *path, size_t path_size)
{
    snprintf(path, path_size, "%s/%s", folder, name);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(w->data, 1, w->size, f), w->size);
    assert_int_equal(fclose(f), 0);
}
