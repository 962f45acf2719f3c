/* Sound files as they are found in the field: wrong headers, odd chunks, pipes, and things that are no sound. */
#define _FILE_OFFSET_BITS 64
#include <fcntl.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "signals.h"
#include "sound/source.h"
#include "wav_bytes.h"

#define FRAMES 24000u
#define RATE   48000u

enum { AT_ONCE = 9001 }; /* frames read: more than any reader inside takes at a time */

struct fixture {
    char folder[200];
    char path[300];
    short pcm[FRAMES]; /* 0.5 s of noise: no two stretches are alike */
};

static int set_up(void **state)
{
    struct fixture *f = calloc(1, sizeof *f);
    struct rng rng = rng_seeded(7);
    assert_non_null(f);
    wb_folder_make(f->folder, sizeof f->folder);
    for (size_t i = 0; i < FRAMES; i++) {
        f->pcm[i] = (short)(rng_normal(&rng) * 3000.0);
    }
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    struct fixture *f = *state;
    wb_folder_remove(f->folder);
    free(f);
    return 0;
}

/* ---- helpers ---------------------------------------------------------------------------------- */

struct heard {
    float *samples;
    size_t frames;
    int channels;
    double rate_hz;
    char note[256];
    enum thrum_source_event last;
};

static void hear(struct thrum_source *source, struct heard *h)
{
    const struct thrum_source_info *info = thrum_source_info(source);
    struct thrum_source_block block;
    size_t room = 16384;
    h->channels = info->channels;
    h->rate_hz = info->rate_hz;
    h->frames = 0;
    h->samples = malloc(room * (size_t)h->channels * sizeof(float));
    assert_non_null(h->samples);
    do {
        if (h->frames + AT_ONCE > room) {
            room *= 2;
            h->samples = realloc(h->samples, room * (size_t)h->channels * sizeof(float));
            assert_non_null(h->samples);
        }
        thrum_source_read(source, h->samples + h->frames * (size_t)h->channels, AT_ONCE, &block);
        h->frames += block.frames;
    } while (block.event == THRUM_SOURCE_DATA);
    h->last = block.event;
    memcpy(h->note, info->note, sizeof h->note);
}

static void hear_file(const char *path, struct heard *h)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_source_open_file(path, &source, &message);
    if (status != THRUM_OK) {
        fail_msg("%s: %d %s", path, status, message.text);
    }
    hear(source, h);
    thrum_source_close(source);
}

/* The samples of the fixture's sound, from its first frame on, exactly. */
static void assert_is_pcm(const struct fixture *f, const struct heard *h, size_t frames)
{
    size_t wrong = 0;
    assert_int_equal(h->last, THRUM_SOURCE_END);
    assert_int_equal(h->frames, frames);
    for (size_t i = 0; i < frames; i++) {
        wrong += h->samples[i] != (float)f->pcm[i] / 32768.0f ? 1 : 0;
    }
    assert_int_equal(wrong, 0);
}

/* RIFF, fmt, data with the given sizes; returns where the data size stands. */
static size_t plain_wav(const struct fixture *f, struct wav_bytes *w, uint32_t riff, uint32_t data)
{
    wb_riff(w, "RIFF", riff);
    wb_fmt(w, 1, 1, RATE, 16);
    wb_id(w, "data");
    wb_u32(w, data);
    wb_put(w, f->pcm, sizeof f->pcm);
    return 40;
}

static void save_and_check(struct fixture *f, struct wav_bytes *w, size_t frames, const char *note)
{
    struct heard h;
    wb_save(w, f->folder, "x.wav", f->path, sizeof f->path);
    hear_file(f->path, &h);
    assert_is_pcm(f, &h, frames);
    if (note) {
        assert_non_null(strstr(h.note, note));
    } else {
        assert_string_equal(h.note, "");
    }
    free(h.samples);
    wb_free(w);
}

static enum thrum_status refused(struct fixture *f, struct wav_bytes *w, const char *words)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    wb_save(w, f->folder, "bad.wav", f->path, sizeof f->path);
    enum thrum_status status = thrum_source_open_file(f->path, &source, &message);
    assert_null(source);
    assert_int_not_equal(status, THRUM_OK);
    if (!strstr(message.text, words)) {
        fail_msg("'%s' is not in '%s'", words, message.text);
    }
    wb_free(w);
    return status;
}

/* ---- sizes that lie --------------------------------------------------------------------------- */

static void honest_file_reads_exactly_and_says_nothing(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    save_and_check(f, &w, FRAMES, NULL);
}

static void wrong_sizes_are_repaired_in_memory(void **state)
{
    struct fixture *f = *state;
    static const uint32_t data_size[] = {0, 0, 0, 0xFFFFFFFFu, 0x7FFFFFFFu, 0x80000000u, 4096};
    static const uint32_t riff_size[] = {8, 36, 4088, 0xFFFFFFFFu, 0x80000023u, 0, 4132};
    for (size_t i = 0; i < sizeof data_size / sizeof data_size[0]; i++) {
        struct wav_bytes w = {0};
        plain_wav(f, &w, riff_size[i], data_size[i]);
        struct wav_bytes copy = {0};
        wb_put(&copy, w.data, w.size);
        save_and_check(f, &w, FRAMES, "header repaired in memory");
        /* the original is untouched */
        unsigned char *now = malloc(copy.size + 1);
        FILE *file = fopen(f->path, "rb");
        assert_non_null(now);
        assert_non_null(file);
        assert_int_equal(fread(now, 1, copy.size + 1, file), copy.size);
        assert_memory_equal(now, copy.data, copy.size);
        fclose(file);
        free(now);
        wb_free(&copy);
    }
}

static void sizes_a_little_too_large_are_read_without_a_word(void **state)
{
    struct fixture *f = *state;
    for (uint32_t more = 16; more <= 28; more += 12) {
        struct wav_bytes w = {0};
        plain_wav(f, &w, 36 + sizeof f->pcm, (uint32_t)sizeof f->pcm + more);
        save_and_check(f, &w, FRAMES, NULL);
    }
}

static void a_cut_file_gives_what_is_there_and_both_numbers(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    w.size = 44 + 2 * 10000 + 1; /* and half a sample */
    save_and_check(f, &w, 10000, "cut short: the header promises 48000 bytes of sound, 20001 are there");
}

static void samples_that_look_like_chunks_are_samples(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    memcpy(f->pcm, "LIST\x10\0\0\0INFOdata\x04\0\0\0", 20);
    plain_wav(f, &w, 36, 0);
    save_and_check(f, &w, FRAMES, "repaired");
}

static void empty_data_before_other_chunks_is_no_sound(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    wb_riff(&w, "RIFF", 36 + 20);
    wb_fmt(&w, 1, 1, RATE, 16);
    wb_id(&w, "data");
    wb_u32(&w, 0);
    wb_id(&w, "LIST");
    wb_u32(&w, 12);
    wb_put(&w, "INFOISFT\0\0\0\0", 12);
    assert_int_equal(refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
}

/* ---- chunks ----------------------------------------------------------------------------------- */

static void chunks_before_the_data_are_stepped_over(void **state)
{
    struct fixture *f = *state;
    static const char *const id[] = {"bext", "JUNK", "LIST"};
    static const uint32_t size[] = {642, 28, 393164};
    for (size_t i = 0; i < 3; i++) {
        struct wav_bytes w = {0};
        wb_riff(&w, "RIFF", (uint32_t)(36 + sizeof f->pcm) + 8 + size[i]);
        wb_id(&w, id[i]);
        wb_u32(&w, size[i]);
        wb_zeros(&w, size[i]);
        wb_fmt(&w, 1, 1, RATE, 16);
        wb_id(&w, "data");
        wb_u32(&w, sizeof f->pcm);
        wb_put(&w, f->pcm, sizeof f->pcm);
        save_and_check(f, &w, FRAMES, NULL);
    }
}

/* 24-bit mono with an odd number of frames: the data is odd, the pad byte there or forgotten, a LIST after it. */
static void odd_data_with_and_without_its_pad_byte(void **state)
{
    struct fixture *f = *state;
    for (int padded = 0; padded < 2; padded++) {
        struct wav_bytes w = {0};
        struct heard h;
        const uint32_t frames = 9001;
        wb_riff(&w, "RIFF", 36 + frames * 3 + (uint32_t)padded + 20);
        wb_fmt(&w, 1, 1, RATE, 24);
        wb_id(&w, "data");
        wb_u32(&w, frames * 3);
        for (uint32_t i = 0; i < frames; i++) {
            unsigned char b[3] = {0, (unsigned char)(f->pcm[i] & 0xFF),
                                  (unsigned char)((f->pcm[i] >> 8) & 0xFF)};
            wb_put(&w, b, 3);
        }
        wb_zeros(&w, (size_t)padded);
        wb_id(&w, "LIST");
        wb_u32(&w, 12);
        wb_put(&w, "INFOISFT\0\0\0\0", 12);
        wb_save(&w, f->folder, "odd.wav", f->path, sizeof f->path);
        hear_file(f->path, &h);
        assert_is_pcm(f, &h, frames);
        assert_string_equal(h.note, "");
        free(h.samples);
        wb_free(&w);
    }
}

/* EBU Tech 3306 / ITU-R BS.2088 (read in a transcription): ds64 first, u64 riff size, u64 data size, u64 samples. */
static void rf64_takes_its_sizes_from_ds64(void **state)
{
    struct fixture *f = *state;
    static const char *const id[] = {"RF64", "BW64"};
    for (size_t i = 0; i < 2; i++) {
        struct wav_bytes w = {0};
        wb_riff(&w, id[i], 0xFFFFFFFFu);
        wb_id(&w, "ds64");
        wb_u32(&w, 28);
        wb_u64(&w, 72 + sizeof f->pcm + 20);
        wb_u64(&w, sizeof f->pcm);
        wb_u64(&w, FRAMES);
        wb_u32(&w, 0);
        wb_fmt(&w, 1, 1, RATE, 16);
        wb_id(&w, "data");
        wb_u32(&w, 0xFFFFFFFFu);
        wb_put(&w, f->pcm, sizeof f->pcm);
        wb_id(&w, "LIST"); /* must not be heard as sound */
        wb_u32(&w, 12);
        wb_put(&w, "INFOISFT\0\0\0\0", 12);
        save_and_check(f, &w, FRAMES, NULL);
    }
}

/* A sparse file of 5 GiB; its 32-bit size once stuck at the top, once wrapped around. */
static void files_beyond_4_gib_are_seen_whole(void **state)
{
    struct fixture *f = *state;
    const uint64_t data = (uint64_t)5 << 30;
    const uint32_t says[] = {0xFFFFFFFFu, (uint32_t)data};
    for (size_t i = 0; i < 2; i++) {
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        plain_wav(f, &w, says[i], says[i]);
        wb_save(&w, f->folder, "big.wav", f->path, sizeof f->path);
        wb_free(&w);
        if (truncate(f->path, (off_t)(44 + data)) != 0) {
            skip();
        }
        assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
        assert_true(thrum_source_info(source)->frames == data / 2);
        assert_non_null(strstr(thrum_source_info(source)->note, "repaired"));
        thrum_source_close(source);
        unlink(f->path);
    }
}

/* ---- marks ------------------------------------------------------------------------------------ */

static void put_cue(struct wav_bytes *w, const uint32_t *frame, const char *const *label,
                    const uint32_t *length, size_t n)
{
    size_t list = 4;
    for (size_t i = 0; i < n; i++) {
        list += 28 + 12 + strlen(label[i]) + 1 + (strlen(label[i]) + 1) % 2;
    }
    wb_id(w, "cue ");
    wb_u32(w, (uint32_t)(4 + 24 * n));
    wb_u32(w, (uint32_t)n);
    for (size_t i = 0; i < n; i++) {
        wb_u32(w, (uint32_t)(i + 10));
        wb_u32(w, frame[i]);
        wb_id(w, "data");
        wb_u32(w, 0);
        wb_u32(w, 0);
        wb_u32(w, frame[i]);
    }
    wb_id(w, "LIST");
    wb_u32(w, (uint32_t)list);
    wb_id(w, "adtl");
    for (size_t i = 0; i < n; i++) {
        wb_id(w, "labl");
        wb_u32(w, (uint32_t)(4 + strlen(label[i]) + 1));
        wb_u32(w, (uint32_t)(i + 10));
        wb_put(w, label[i], strlen(label[i]) + 1);
        wb_zeros(w, (strlen(label[i]) + 1) % 2);
        wb_id(w, "ltxt");
        wb_u32(w, 20);
        wb_u32(w, (uint32_t)(i + 10));
        wb_u32(w, length[i]);
        wb_id(w, "rgn ");
        wb_zeros(w, 8);
    }
}

static void cue_points_with_labels_and_lengths_are_marks(void **state)
{
    struct fixture *f = *state;
    static const uint32_t frame[] = {9600, 0, 4800};
    static const uint32_t length[] = {2400, 1000, 0};
    static const char *const label[] = {"w03", "w01", "gr\xC3\xA4u 2"};
    for (int before = 0; before < 2; before++) { /* in front of the data, and in the tail */
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        struct thrum_mark mark[4];
        wb_riff(&w, "RIFF", 0);
        wb_fmt(&w, 1, 1, RATE, 16);
        if (before) {
            put_cue(&w, frame, label, length, 3);
        }
        wb_id(&w, "data");
        wb_u32(&w, sizeof f->pcm);
        wb_put(&w, f->pcm, sizeof f->pcm);
        if (!before) {
            put_cue(&w, frame, label, length, 3);
        }
        wb_patch32(&w, 4, (uint32_t)w.size - 8);
        wb_save(&w, f->folder, "cue.wav", f->path, sizeof f->path);
        assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
        assert_int_equal(thrum_source_marks(source, NULL, 0), 3);
        assert_int_equal(thrum_source_marks(source, mark, 4), 3);
        assert_string_equal(mark[0].label, "w01");
        assert_int_equal(mark[0].first, 0);
        assert_int_equal(mark[0].end, 1000);
        assert_string_equal(mark[1].label, "gr\xC3\xA4u 2");
        assert_int_equal(mark[1].first, 4800);
        assert_int_equal(mark[1].end, 0);
        assert_string_equal(mark[2].label, "w03");
        assert_int_equal(mark[2].end, 12000);
        thrum_source_close(source);
        wb_free(&w);
    }
}

/* Some writers forget the pad byte after an odd chunk: before the data, and between the data and the marks. */
static void forgotten_pad_bytes_hide_nothing(void **state)
{
    struct fixture *f = *state;
    static const uint32_t frame[] = {10};
    static const uint32_t length[] = {20};
    static const char *const label[] = {"w01"};
    for (int padded = 0; padded < 2; padded++) {
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        struct thrum_mark mark;
        wb_riff(&w, "RIFF", 0);
        wb_id(&w, "JUNK");
        wb_u32(&w, 27);
        wb_zeros(&w, 27 + (size_t)padded);
        wb_fmt(&w, 1, 1, RATE, 8);
        wb_id(&w, "data");
        wb_u32(&w, 501);
        wb_put(&w, f->pcm, 501);
        wb_zeros(&w, (size_t)padded);
        put_cue(&w, frame, label, length, 1);
        wb_patch32(&w, 4, (uint32_t)w.size - 8);
        wb_save(&w, f->folder, "odd.wav", f->path, sizeof f->path);
        assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
        assert_int_equal(thrum_source_info(source)->frames, 501);
        assert_int_equal(thrum_source_marks(source, &mark, 1), 1);
        assert_string_equal(mark.label, "w01");
        thrum_source_close(source);
        wb_free(&w);
    }
}

/* ---- floats ----------------------------------------------------------------------------------- */

static void float_wav(const struct fixture *f, struct wav_bytes *w, float factor, size_t wild_at, float wild)
{
    wb_riff(w, "RIFF", (uint32_t)(36 + FRAMES * 4));
    wb_fmt(w, 3, 1, RATE, 32);
    wb_id(w, "data");
    wb_u32(w, FRAMES * 4);
    for (size_t i = 0; i < FRAMES; i++) {
        float x = (float)f->pcm[i] / 32768.0f * factor;
        x = i == wild_at ? wild : x;
        wb_put(w, &x, 4);
    }
}

static void integers_in_a_float_file_are_scaled_once_and_it_is_said(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    float_wav(f, &w, 32768.0f, FRAMES, 0.0f);
    save_and_check(f, &w, FRAMES, "scaled by 2^-15");
}

static void one_wild_value_scales_nothing(void **state)
{
    struct fixture *f = *state;
    static const float wild[] = {1e30f, INFINITY, -INFINITY, NAN, 100.0f};
    for (size_t i = 0; i < sizeof wild / sizeof wild[0]; i++) {
        struct wav_bytes w = {0};
        struct heard h;
        float_wav(f, &w, 1.0f, 12000, wild[i]);
        wb_save(&w, f->folder, "wild.wav", f->path, sizeof f->path);
        hear_file(f->path, &h);
        assert_int_equal(h.frames, FRAMES);
        assert_string_equal(h.note, "");
        assert_true(h.samples[11999] == (float)f->pcm[11999] / 32768.0f);
        assert_memory_equal(&h.samples[12000], &wild[i], 4); /* passed through: the listener cleans */
        assert_true(h.samples[12001] == (float)f->pcm[12001] / 32768.0f);
        free(h.samples);
        wb_free(&w);
    }
}

static void eight_times_too_loud_is_left_alone(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    struct heard h;
    float_wav(f, &w, 8.0f, FRAMES, 0.0f);
    wb_save(&w, f->folder, "x8.wav", f->path, sizeof f->path);
    hear_file(f->path, &h);
    assert_string_equal(h.note, "");
    assert_close(h.samples[5], (float)f->pcm[5] / 4096.0f, 0.0);
    free(h.samples);
    wb_free(&w);
}

/* ---- what is refused -------------------------------------------------------------------------- */

static void nonsense_in_the_format_is_refused_with_words(void **state)
{
    struct fixture *f = *state;
    static const struct {
        unsigned channels;
        uint32_t rate;
        unsigned bits;
        const char *words;
    } bad[] = {
        {0, 48000, 16, "channels"},        {65535, 48000, 16, "channels"},
        {65, 48000, 16, "1 to 64"},        {1, 0, 16, "2000 to 768000"},
        {1, 1, 16, "8000 to 192000"},      {1, 0xFFFFFFFFu, 16, "samples a second"},
        {1, 768001, 16, "2000 to 768000"}, {1, 48000, 0, "bad.wav"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct wav_bytes w = {0};
        wb_riff(&w, "RIFF", 36 + 2000);
        wb_fmt(&w, 1, bad[i].channels, bad[i].rate, bad[i].bits);
        wb_id(&w, "data");
        wb_u32(&w, 2000);
        wb_zeros(&w, 2000);
        assert_int_equal(refused(f, &w, bad[i].words), THRUM_ERR_FORMAT);
    }
}

static void files_without_sound_are_called_that(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    wb_zeros(&w, 1);
    w.size = 0;
    assert_int_equal(refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_put(&w, "RIFF\0\0\0\0WA", 10);
    assert_int_equal(refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_riff(&w, "RIFF", 36);
    wb_fmt(&w, 1, 1, RATE, 16);
    assert_int_equal(refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_riff(&w, "RIFF", 36);
    wb_fmt(&w, 1, 1, RATE, 16);
    wb_id(&w, "data");
    wb_u32(&w, 0);
    assert_int_equal(refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
}

static void one_sample_is_sound(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    plain_wav(f, &w, 38, 2);
    w.size = 46;
    save_and_check(f, &w, 1, NULL);
}

static void phone_formats_are_named_with_the_command_to_convert(void **state)
{
    struct fixture *f = *state;
    static const struct {
        const char *bytes;
        size_t size;
        const char *words;
    } kind[] = {
        {"\0\0\0\x20"
         "ftypM4A \0\0\0\0M4A mp42isom",
         sizeof("\0\0\0\x20"
                "ftypM4A \0\0\0\0M4A mp42isom") -
             1,
         "M4A"},
        {"\0\0\0\x18"
         "ftyp3gp4\0\0\0\0isom3gp4",
         sizeof("\0\0\0\x18"
                "ftyp3gp4\0\0\0\0isom3gp4") -
             1,
         "3GP"},
        {"\0\0\0\x18"
         "ftypmp42\0\0\0\0isommp42",
         sizeof("\0\0\0\x18"
                "ftypmp42\0\0\0\0isommp42") -
             1,
         "MP4"},
        {"\x1A\x45\xDF\xA3\x9F\x42\x86\x81\x01\x42\xF7\x81\x01\x42\xF2\x81",
         sizeof("\x1A\x45\xDF\xA3\x9F\x42\x86\x81\x01\x42\xF7\x81\x01\x42\xF2\x81") - 1, "WebM"},
        {"#!AMR\n\x3C\x91\x17\x16\xBE\x66\x78\x00", sizeof("#!AMR\n\x3C\x91\x17\x16\xBE\x66\x78\x00") - 1,
         "AMR"},
        {"#!AMR-WB\n\x04\x10\x20\x00\x00", sizeof("#!AMR-WB\n\x04\x10\x20\x00\x00") - 1, "AMR-WB"},
        {"\xFF\xF1\x50\x80\x02\x1F\xFC\x00\x00\x00\x00\x00",
         sizeof("\xFF\xF1\x50\x80\x02\x1F\xFC\x00\x00\x00\x00\x00") - 1, "AAC"},
    };
    for (size_t i = 0; i < sizeof kind / sizeof kind[0]; i++) {
        struct wav_bytes w = {0};
        wb_put(&w, kind[i].bytes, kind[i].size);
        wb_zeros(&w, 500);
        struct wav_bytes again = {0};
        wb_put(&again, w.data, w.size);
        assert_int_equal(refused(f, &w, kind[i].words), THRUM_ERR_FORMAT);
        assert_int_equal(refused(f, &again, "ffmpeg -i '"), THRUM_ERR_FORMAT);
    }
}

static void text_and_missing_files_and_folders_are_told_apart(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    struct thrum_source *source = NULL;
    struct thrum_message message;
    for (int i = 0; i < 100; i++) {
        wb_put(&w, "zone,ohm\n", 9);
    }
    assert_int_equal(refused(f, &w, "no sound that can be read"), THRUM_ERR_FORMAT);
    snprintf(f->path, sizeof f->path, "%s/missing.wav", f->folder);
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "No such file"));
    assert_int_equal(thrum_source_open_file(f->folder, &source, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "is a folder"));
}

/* ---- other formats, pipes --------------------------------------------------------------------- */

static bool write_by_library(const struct fixture *f, const char *path, int format)
{
    SF_INFO info = {.samplerate = RATE, .channels = 1, .format = format};
    if (!sf_format_check(&info)) {
        return false;
    }
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file) {
        return false;
    }
    assert_int_equal(sf_writef_short(file, f->pcm, FRAMES), FRAMES);
    sf_close(file);
    return true;
}

static void flac_aiff_and_au_read_exactly_whatever_their_name(void **state)
{
    struct fixture *f = *state;
    static const int format[] = {SF_FORMAT_FLAC | SF_FORMAT_PCM_16, SF_FORMAT_AIFF | SF_FORMAT_PCM_16,
                                 SF_FORMAT_AU | SF_FORMAT_PCM_16,   SF_FORMAT_W64 | SF_FORMAT_PCM_16,
                                 SF_FORMAT_CAF | SF_FORMAT_PCM_16,  SF_FORMAT_WAVEX | SF_FORMAT_PCM_16};
    for (size_t i = 0; i < sizeof format / sizeof format[0]; i++) {
        struct heard h;
        snprintf(f->path, sizeof f->path, "%s/named.wav", f->folder);
        assert_true(write_by_library(f, f->path, format[i]));
        hear_file(f->path, &h);
        assert_is_pcm(f, &h, FRAMES);
        assert_string_equal(h.note, "");
        free(h.samples);
    }
}

static void a_cut_flac_gives_what_is_there_and_both_numbers(void **state)
{
    struct fixture *f = *state;
    struct heard h;
    struct stat about;
    snprintf(f->path, sizeof f->path, "%s/cut.flac", f->folder);
    assert_true(write_by_library(f, f->path, SF_FORMAT_FLAC | SF_FORMAT_PCM_16));
    assert_int_equal(stat(f->path, &about), 0);
    assert_int_equal(truncate(f->path, about.st_size * 2 / 3), 0);
    hear_file(f->path, &h);
    assert_between((double)h.frames, 4096.0, 17000.0);
    assert_is_pcm(f, &h, h.frames);
    assert_non_null(strstr(h.note, "cut short: the header says 24000 frames"));
    free(h.samples);
}

/* Sends a file's bytes through a true pipe into standard input, in small pieces. */
static void hear_piped(const char *path, struct heard *h)
{
    int pipe_fd[2];
    int saved = dup(STDIN_FILENO);
    assert_int_equal(pipe(pipe_fd), 0);
    pid_t child = fork();
    if (child == 0) {
        char block[777];
        int in = open(path, O_RDONLY);
        ssize_t got;
        bool good = in >= 0;
        close(pipe_fd[0]);
        while (good && (got = read(in, block, sizeof block)) > 0) {
            good = write(pipe_fd[1], block, (size_t)got) == got; /* a writer that is not drained dies here */
        }
        _exit(good ? 0 : 1);
    }
    close(pipe_fd[1]);
    dup2(pipe_fd[0], STDIN_FILENO);
    close(pipe_fd[0]);
    struct thrum_source *source = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_source_open_stdin(&source, &message);
    if (status != THRUM_OK) {
        fail_msg("%s", message.text);
    }
    hear(source, h);
    thrum_source_close(source);
    int ended = 0;
    waitpid(child, &ended, 0);
    dup2(saved, STDIN_FILENO);
    close(saved);
    assert_true(WIFEXITED(ended) && WEXITSTATUS(ended) == 0);
}

static void formats_come_through_a_pipe(void **state)
{
    struct fixture *f = *state;
    /* the last two need a temporary file in between */
    static const int format[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_16,  SF_FORMAT_FLAC | SF_FORMAT_PCM_16,
                                 SF_FORMAT_AIFF | SF_FORMAT_PCM_16, SF_FORMAT_AU | SF_FORMAT_PCM_16,
                                 SF_FORMAT_W64 | SF_FORMAT_PCM_16,  SF_FORMAT_CAF | SF_FORMAT_PCM_16};
    for (size_t i = 0; i < sizeof format / sizeof format[0]; i++) {
        struct heard h;
        snprintf(f->path, sizeof f->path, "%s/piped", f->folder);
        assert_true(write_by_library(f, f->path, format[i]));
        hear_piped(f->path, &h);
        assert_is_pcm(f, &h, FRAMES);
        free(h.samples);
    }
}

static void a_pipe_of_unknown_length_reads_to_its_end(void **state)
{
    struct fixture *f = *state;
    static const uint32_t size[] = {0, 0xFFFFFFFFu, 0x7FFFFFFFu, 0x7FFFF000u, 0x80000000u};
    for (size_t i = 0; i < sizeof size / sizeof size[0]; i++) {
        struct wav_bytes w = {0};
        struct heard h;
        plain_wav(f, &w, size[i], size[i]);
        wb_save(&w, f->folder, "stream", f->path, sizeof f->path);
        hear_piped(f->path, &h);
        assert_is_pcm(f, &h, FRAMES);
        free(h.samples);
        wb_free(&w);
    }
}

static void chunks_behind_piped_data_are_drained_not_heard(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    struct heard h;
    plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    wb_id(&w, "LIST");
    wb_u32(&w, 1000000); /* more than a pipe holds */
    wb_id(&w, "INFO");
    wb_zeros(&w, 999996);
    wb_save(&w, f->folder, "tail", f->path, sizeof f->path);
    hear_piped(f->path, &h);
    assert_is_pcm(f, &h, FRAMES);
    free(h.samples);
    wb_free(&w);
}

static void integers_as_floats_are_scaled_in_a_pipe_too(void **state)
{
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    struct heard h;
    float_wav(f, &w, 32768.0f, FRAMES, 0.0f);
    wb_save(&w, f->folder, "floats", f->path, sizeof f->path);
    hear_piped(f->path, &h);
    assert_is_pcm(f, &h, FRAMES);
    assert_non_null(strstr(h.note, "2^-15"));
    free(h.samples);
    wb_free(&w);
}

/* ---- hostile bytes ---------------------------------------------------------------------------- */

/* Random damage to a good file: whatever comes out, no crash, no endless reading, no more frames than bytes. */
static void damaged_headers_never_break_the_reader(void **state)
{
    struct fixture *f = *state;
    struct rng rng = rng_seeded(99);
    static const uint32_t frame[] = {0, 100};
    static const uint32_t length[] = {10, 20};
    static const char *const label[] = {"w01", "w02"};
    for (int round = 0; round < 2000; round++) {
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        wb_riff(&w, round % 3 ? "RIFF" : "RF64", 36 + 400);
        wb_fmt(&w, round % 2 ? 1 : 3, 1, RATE, round % 2 ? 16 : 32);
        put_cue(&w, frame, label, length, 2);
        wb_id(&w, "data");
        wb_u32(&w, 400);
        wb_put(&w, f->pcm, 400);
        put_cue(&w, frame, label, length, 2);
        for (int hit = 0; hit < 1 + round % 7; hit++) {
            w.data[(size_t)(rng_uniform(&rng) * (double)w.size)] = (unsigned char)(rng_uniform(&rng) * 256.0);
        }
        w.size -= (size_t)(rng_uniform(&rng) * 40.0);
        wb_save(&w, f->folder, "fuzz.wav", f->path, sizeof f->path);
        if (thrum_source_open_file(f->path, &source, &message) == THRUM_OK) {
            struct thrum_source_block block;
            float *samples = malloc(64 * 64 * sizeof(float));
            size_t frames = 0;
            do {
                thrum_source_read(source, samples, 64, &block);
                frames += block.frames;
                assert_true(frames <= w.size * 8);
            } while (block.event == THRUM_SOURCE_DATA);
            free(samples);
        } else {
            assert_true(message.text[0] != '\0');
        }
        thrum_source_close(source);
        wb_free(&w);
    }
}

/* ---- functions -------------------------------------------------------------------------------- */

struct counting {
    size_t left;
    int closed;
};

static size_t count_down(void *context, float *samples, size_t max_frames)
{
    struct counting *c = context;
    size_t n = c->left < max_frames ? c->left : max_frames;
    for (size_t i = 0; i < n; i++) {
        samples[i] = (float)(c->left - i);
    }
    c->left -= n;
    return n;
}

static void count_closed(void *context)
{
    ((struct counting *)context)->closed++;
}

static void functions_are_a_source(void **state)
{
    (void)state;
    struct counting c = {.left = 2500, .closed = 0};
    struct thrum_source_functions functions = {count_down, count_closed};
    struct thrum_source_info info = {.name = "practice", .rate_hz = 48000.0, .channels = 1};
    struct thrum_source *source = NULL;
    struct heard h;
    assert_int_equal(thrum_source_from_functions(&functions, &c, &info, &source), THRUM_OK);
    hear(source, &h);
    assert_int_equal(h.frames, 2500);
    assert_int_equal(h.last, THRUM_SOURCE_END);
    assert_close(h.samples[0], 2500.0, 0.0);
    assert_close(h.samples[2499], 1.0, 0.0);
    thrum_source_close(source);
    assert_int_equal(c.closed, 1);
    free(h.samples);
    info.channels = 0;
    assert_int_equal(thrum_source_from_functions(&functions, &c, &info, &source), THRUM_ERR_ARG);
    thrum_source_close(NULL);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(honest_file_reads_exactly_and_says_nothing),
        T(wrong_sizes_are_repaired_in_memory),
        T(sizes_a_little_too_large_are_read_without_a_word),
        T(a_cut_file_gives_what_is_there_and_both_numbers),
        T(samples_that_look_like_chunks_are_samples),
        T(empty_data_before_other_chunks_is_no_sound),
        T(chunks_before_the_data_are_stepped_over),
        T(odd_data_with_and_without_its_pad_byte),
        T(rf64_takes_its_sizes_from_ds64),
        T(files_beyond_4_gib_are_seen_whole),
        T(cue_points_with_labels_and_lengths_are_marks),
        T(forgotten_pad_bytes_hide_nothing),
        T(integers_in_a_float_file_are_scaled_once_and_it_is_said),
        T(one_wild_value_scales_nothing),
        T(eight_times_too_loud_is_left_alone),
        T(nonsense_in_the_format_is_refused_with_words),
        T(files_without_sound_are_called_that),
        T(one_sample_is_sound),
        T(phone_formats_are_named_with_the_command_to_convert),
        T(text_and_missing_files_and_folders_are_told_apart),
        T(flac_aiff_and_au_read_exactly_whatever_their_name),
        T(a_cut_flac_gives_what_is_there_and_both_numbers),
        T(formats_come_through_a_pipe),
        T(a_pipe_of_unknown_length_reads_to_its_end),
        T(chunks_behind_piped_data_are_drained_not_heard),
        T(integers_as_floats_are_scaled_in_a_pipe_too),
        T(damaged_headers_never_break_the_reader),
        cmocka_unit_test(functions_are_a_source),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
