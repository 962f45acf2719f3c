/* Kinds of sound files: floats on a wrong scale, other formats, what is refused and with which words. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

#include "check.h"
#include "sound_files.h"

/* ---- floats ----------------------------------------------------------------------------------- */

static void integers_in_a_float_file_are_scaled_once_and_it_is_said(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    sf_float_wav(f, &w, 32768.0f, SF_FRAMES, 0.0f);
    sf_save_and_check(f, &w, SF_FRAMES, "scaled by 2^-15");
}

static void one_wild_value_scales_nothing(void **state)
{
    struct sf_fixture *f = *state;
    static const float wild[] = {1e30f, INFINITY, -INFINITY, NAN, 100.0f};
    for (size_t i = 0; i < sizeof wild / sizeof wild[0]; i++) {
        struct wav_bytes w = {0};
        struct sf_heard h;
        sf_float_wav(f, &w, 1.0f, 12000, wild[i]);
        wb_save(&w, f->folder, "wild.wav", f->path, sizeof f->path);
        sf_hear_file(f->path, &h);
        assert_int_equal(h.frames, SF_FRAMES);
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
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    struct sf_heard h;
    sf_float_wav(f, &w, 8.0f, SF_FRAMES, 0.0f);
    wb_save(&w, f->folder, "x8.wav", f->path, sizeof f->path);
    sf_hear_file(f->path, &h);
    assert_string_equal(h.note, "");
    assert_close(h.samples[5], (float)f->pcm[5] / 4096.0f, 0.0);
    free(h.samples);
    wb_free(&w);
}

/* ---- what is refused -------------------------------------------------------------------------- */

static void nonsense_in_the_format_is_refused_with_words(void **state)
{
    struct sf_fixture *f = *state;
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
        assert_int_equal(sf_refused(f, &w, bad[i].words), THRUM_ERR_FORMAT);
    }
}

static void files_without_sound_are_called_that(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    wb_zeros(&w, 1);
    w.size = 0;
    assert_int_equal(sf_refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_put(&w, "RIFF\0\0\0\0WA", 10);
    assert_int_equal(sf_refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_riff(&w, "RIFF", 36);
    wb_fmt(&w, 1, 1, SF_RATE, 16);
    assert_int_equal(sf_refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
    wb_riff(&w, "RIFF", 36);
    wb_fmt(&w, 1, 1, SF_RATE, 16);
    wb_id(&w, "data");
    wb_u32(&w, 0);
    assert_int_equal(sf_refused(f, &w, "contains no sound"), THRUM_ERR_FORMAT);
}

static void one_sample_is_sound(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    sf_plain_wav(f, &w, 38, 2);
    w.size = 46;
    sf_save_and_check(f, &w, 1, NULL);
}

static void phone_formats_are_named_with_the_command_to_convert(void **state)
{
    struct sf_fixture *f = *state;
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
        assert_int_equal(sf_refused(f, &w, kind[i].words), THRUM_ERR_FORMAT);
        assert_int_equal(sf_refused(f, &again, "ffmpeg -i '"), THRUM_ERR_FORMAT);
    }
}

static void text_and_missing_files_and_folders_are_told_apart(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    struct thrum_source *source = NULL;
    struct thrum_message message;
    for (int i = 0; i < 100; i++)
        wb_put(&w, "zone,ohm\n", 9);
    assert_int_equal(sf_refused(f, &w, "no sound that can be read"), THRUM_ERR_FORMAT);
    snprintf(f->path, sizeof f->path, "%s/missing.wav", f->folder);
    assert_int_equal(thrum_source_open_file(f->path, &source, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "No such file"));
    assert_int_equal(thrum_source_open_file(f->folder, &source, &message), THRUM_ERR_FILE);
    assert_non_null(strstr(message.text, "is a folder"));
}

/* ---- other formats, pipes --------------------------------------------------------------------- */

static void flac_aiff_and_au_read_exactly_whatever_their_name(void **state)
{
    struct sf_fixture *f = *state;
    static const int format[] = {SF_FORMAT_FLAC | SF_FORMAT_PCM_16, SF_FORMAT_AIFF | SF_FORMAT_PCM_16,
                                 SF_FORMAT_AU | SF_FORMAT_PCM_16,   SF_FORMAT_W64 | SF_FORMAT_PCM_16,
                                 SF_FORMAT_CAF | SF_FORMAT_PCM_16,  SF_FORMAT_WAVEX | SF_FORMAT_PCM_16};
    for (size_t i = 0; i < sizeof format / sizeof format[0]; i++) {
        struct sf_heard h;
        snprintf(f->path, sizeof f->path, "%s/named.wav", f->folder);
        assert_true(sf_write_by_library(f, f->path, format[i]));
        sf_hear_file(f->path, &h);
        sf_assert_is_pcm(f, &h, SF_FRAMES);
        assert_string_equal(h.note, "");
        free(h.samples);
    }
}

static void a_cut_flac_gives_what_is_there_and_both_numbers(void **state)
{
    struct sf_fixture *f = *state;
    struct sf_heard h;
    struct stat about;
    snprintf(f->path, sizeof f->path, "%s/cut.flac", f->folder);
    assert_true(sf_write_by_library(f, f->path, SF_FORMAT_FLAC | SF_FORMAT_PCM_16));
    assert_int_equal(stat(f->path, &about), 0);
    assert_int_equal(truncate(f->path, about.st_size * 2 / 3), 0);
    sf_hear_file(f->path, &h);
    assert_between((double)h.frames, 4096.0, 17000.0);
    sf_assert_is_pcm(f, &h, h.frames);
    assert_non_null(strstr(h.note, "cut short: the header says 24000 frames"));
    free(h.samples);
}

/* Sends a file's bytes through a true pipe into standard input, in small pieces. */

#define T(name) cmocka_unit_test_setup_teardown(name, sf_set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
