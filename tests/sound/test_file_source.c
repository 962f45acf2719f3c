/* Sound files as they are found in the field: sizes that lie, odd chunks, marks. */
#define _FILE_OFFSET_BITS 64
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

#include "check.h"
#include "sound_files.h"

/* ---- sizes that lie --------------------------------------------------------------------------- */

static void honest_file_reads_exactly_and_says_nothing(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    sf_plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    sf_save_and_check(f, &w, SF_FRAMES, NULL);
}

static void wrong_sizes_are_repaired_in_memory(void **state)
{
    struct sf_fixture *f = *state;
    static const uint32_t data_size[] = {0, 0, 0, 0xFFFFFFFFu, 0x7FFFFFFFu, 0x80000000u, 4096};
    static const uint32_t riff_size[] = {8, 36, 4088, 0xFFFFFFFFu, 0x80000023u, 0, 4132};
    for (size_t i = 0; i < sizeof data_size / sizeof data_size[0]; i++) {
        struct wav_bytes w = {0};
        sf_plain_wav(f, &w, riff_size[i], data_size[i]);
        struct wav_bytes copy = {0};
        wb_put(&copy, w.data, w.size);
        sf_save_and_check(f, &w, SF_FRAMES, "header repaired in memory");
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
    struct sf_fixture *f = *state;
    for (uint32_t more = 16; more <= 28; more += 12) {
        struct wav_bytes w = {0};
        sf_plain_wav(f, &w, 36 + sizeof f->pcm, (uint32_t)sizeof f->pcm + more);
        sf_save_and_check(f, &w, SF_FRAMES, NULL);
    }
}

static void a_cut_file_gives_what_is_there_and_both_numbers(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    sf_plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    w.size = 44 + 2 * 10000 + 1; /* and half a sample */
    sf_save_and_check(f, &w, 10000, "cut short: the header promises 48000 bytes of sound, 20001 are there");
}

static void samples_that_look_like_chunks_are_samples(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    memcpy(f->pcm, "LIST\x10\0\0\0INFOdata\x04\0\0\0", 20);
    sf_plain_wav(f, &w, 36, 0);
    sf_save_and_check(f, &w, SF_FRAMES, "repaired");
}

static void empty_data_before_other_chunks_is_no_sound(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    wb_riff(&w, "RIFF", 36 + 20);
    wb_fmt(&w, 1, 1, SF_RATE, 16);
    wb_id(&w, "data");
    wb_u32(&w, 0);
    wb_id(&w, "LIST");
    wb_u32(&w, 12);
    wb_put(&w, "INFOISFT\0\0\0\0", 12);
    assert_int_equal(sf_refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
}

/* ---- chunks ----------------------------------------------------------------------------------- */

static void chunks_before_the_data_are_stepped_over(void **state)
{
    struct sf_fixture *f = *state;
    static const char *const id[] = {"bext", "JUNK", "LIST"};
    static const uint32_t size[] = {642, 28, 393164};
    for (size_t i = 0; i < 3; i++) {
        struct wav_bytes w = {0};
        wb_riff(&w, "RIFF", (uint32_t)(36 + sizeof f->pcm) + 8 + size[i]);
        wb_id(&w, id[i]);
        wb_u32(&w, size[i]);
        wb_zeros(&w, size[i]);
        wb_fmt(&w, 1, 1, SF_RATE, 16);
        wb_id(&w, "data");
        wb_u32(&w, sizeof f->pcm);
        wb_put(&w, f->pcm, sizeof f->pcm);
        sf_save_and_check(f, &w, SF_FRAMES, NULL);
    }
}

/* 24-bit mono with an odd number of frames: the data is odd, the pad byte there or forgotten, a LIST after it. */
static void odd_data_with_and_without_its_pad_byte(void **state)
{
    struct sf_fixture *f = *state;
    for (int padded = 0; padded < 2; padded++) {
        struct wav_bytes w = {0};
        struct sf_heard h;
        const uint32_t frames = 9001;
        wb_riff(&w, "RIFF", 36 + frames * 3 + (uint32_t)padded + 20);
        wb_fmt(&w, 1, 1, SF_RATE, 24);
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
        sf_hear_file(f->path, &h);
        sf_assert_is_pcm(f, &h, frames);
        assert_string_equal(h.note, "");
        free(h.samples);
        wb_free(&w);
    }
}

/* EBU Tech 3306 / ITU-R BS.2088 (read in a transcription): ds64 first, u64 riff size, u64 data size, u64 samples. */
static void rf64_takes_its_sizes_from_ds64(void **state)
{
    struct sf_fixture *f = *state;
    static const char *const id[] = {"RF64", "BW64"};
    for (size_t i = 0; i < 2; i++) {
        struct wav_bytes w = {0};
        wb_riff(&w, id[i], 0xFFFFFFFFu);
        wb_id(&w, "ds64");
        wb_u32(&w, 28);
        wb_u64(&w, 72 + sizeof f->pcm + 20);
        wb_u64(&w, sizeof f->pcm);
        wb_u64(&w, SF_FRAMES);
        wb_u32(&w, 0);
        wb_fmt(&w, 1, 1, SF_RATE, 16);
        wb_id(&w, "data");
        wb_u32(&w, 0xFFFFFFFFu);
        wb_put(&w, f->pcm, sizeof f->pcm);
        wb_id(&w, "LIST"); /* must not be heard as sound */
        wb_u32(&w, 12);
        wb_put(&w, "INFOISFT\0\0\0\0", 12);
        sf_save_and_check(f, &w, SF_FRAMES, NULL);
    }
}

/* A sparse file of 5 GiB; its 32-bit size once stuck at the top, once wrapped around. */
static void files_beyond_4_gib_are_seen_whole(void **state)
{
    struct sf_fixture *f = *state;
    const uint64_t data = (uint64_t)5 << 30;
    const uint32_t says[] = {0xFFFFFFFFu, (uint32_t)data};
    for (size_t i = 0; i < 2; i++) {
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        sf_plain_wav(f, &w, says[i], says[i]);
        wb_save(&w, f->folder, "big.wav", f->path, sizeof f->path);
        wb_free(&w);
        if (truncate(f->path, (off_t)(44 + data)) != 0)
            skip();
        assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_OK);
        assert_true(thrum_source_info(source)->frames == data / 2);
        assert_non_null(strstr(thrum_source_info(source)->note, "repaired"));
        thrum_source_close(source);
        unlink(f->path);
    }
}

/* ---- marks ------------------------------------------------------------------------------------ */

static void cue_points_with_labels_and_lengths_are_marks(void **state)
{
    struct sf_fixture *f = *state;
    static const uint32_t frame[] = {9600, 0, 4800};
    static const uint32_t length[] = {2400, 1000, 0};
    static const char *const label[] = {"w03", "w01", "gr\xC3\xA4u 2"};
    for (int before = 0; before < 2; before++) { /* in front of the data, and in the tail */
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        struct thrum_mark mark[4];
        wb_riff(&w, "RIFF", 0);
        wb_fmt(&w, 1, 1, SF_RATE, 16);
        if (before)
            sf_put_cue(&w, frame, label, length, 3);
        wb_id(&w, "data");
        wb_u32(&w, sizeof f->pcm);
        wb_put(&w, f->pcm, sizeof f->pcm);
        if (!before)
            sf_put_cue(&w, frame, label, length, 3);
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
    struct sf_fixture *f = *state;
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
        wb_fmt(&w, 1, 1, SF_RATE, 8);
        wb_id(&w, "data");
        wb_u32(&w, 501);
        wb_put(&w, f->pcm, 501);
        wb_zeros(&w, (size_t)padded);
        sf_put_cue(&w, frame, label, length, 1);
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

#define T(name) cmocka_unit_test_setup_teardown(name, sf_set_up, wb_fixture_remove)

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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
