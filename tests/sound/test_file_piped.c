/* Sound that comes through a pipe, damaged headers, and functions as a source. */
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
#include "sound_files.h"

static void hear_piped(const char *path, struct sf_heard *h)
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
        while (good && (got = read(in, block, sizeof block)) > 0)
            good = write(pipe_fd[1], block, (size_t)got) == got; /* a writer that is not drained dies here */
        _exit(good ? 0 : 1);
    }
    close(pipe_fd[1]);
    dup2(pipe_fd[0], STDIN_FILENO);
    close(pipe_fd[0]);
    struct thrum_source *source = NULL;
    struct thrum_message message;
    enum thrum_status status = thrum_source_open_stdin(&source, &message);
    if (status != THRUM_OK)
        fail_msg("%s", message.text);
    sf_hear(source, h);
    thrum_source_close(source);
    int ended = 0;
    waitpid(child, &ended, 0);
    dup2(saved, STDIN_FILENO);
    close(saved);
    assert_true(WIFEXITED(ended) && WEXITSTATUS(ended) == 0);
}

static void formats_come_through_a_pipe(void **state)
{
    struct sf_fixture *f = *state;
    /* the last two need a temporary file in between */
    static const int format[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_16,  SF_FORMAT_FLAC | SF_FORMAT_PCM_16,
                                 SF_FORMAT_AIFF | SF_FORMAT_PCM_16, SF_FORMAT_AU | SF_FORMAT_PCM_16,
                                 SF_FORMAT_W64 | SF_FORMAT_PCM_16,  SF_FORMAT_CAF | SF_FORMAT_PCM_16};
    for (size_t i = 0; i < sizeof format / sizeof format[0]; i++) {
        struct sf_heard h;
        snprintf(f->path, sizeof f->path, "%s/piped", f->folder);
        assert_true(sf_write_by_library(f, f->path, format[i]));
        hear_piped(f->path, &h);
        sf_assert_is_pcm(f, &h, SF_FRAMES);
        free(h.samples);
    }
}

static void a_pipe_of_unknown_length_reads_to_its_end(void **state)
{
    struct sf_fixture *f = *state;
    static const uint32_t size[] = {0, 0xFFFFFFFFu, 0x7FFFFFFFu, 0x7FFFF000u, 0x80000000u};
    for (size_t i = 0; i < sizeof size / sizeof size[0]; i++) {
        struct wav_bytes w = {0};
        struct sf_heard h;
        sf_plain_wav(f, &w, size[i], size[i]);
        wb_save(&w, f->folder, "stream", f->path, sizeof f->path);
        hear_piped(f->path, &h);
        sf_assert_is_pcm(f, &h, SF_FRAMES);
        free(h.samples);
        wb_free(&w);
    }
}

static void chunks_behind_piped_data_are_drained_not_heard(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    struct sf_heard h;
    sf_plain_wav(f, &w, 36 + sizeof f->pcm, sizeof f->pcm);
    wb_id(&w, "LIST");
    wb_u32(&w, 1000000); /* more than a pipe holds */
    wb_id(&w, "INFO");
    wb_zeros(&w, 999996);
    wb_save(&w, f->folder, "tail", f->path, sizeof f->path);
    hear_piped(f->path, &h);
    sf_assert_is_pcm(f, &h, SF_FRAMES);
    free(h.samples);
    wb_free(&w);
}

static void integers_as_floats_are_scaled_in_a_pipe_too(void **state)
{
    struct sf_fixture *f = *state;
    struct wav_bytes w = {0};
    struct sf_heard h;
    sf_float_wav(f, &w, 32768.0f, SF_FRAMES, 0.0f);
    wb_save(&w, f->folder, "floats", f->path, sizeof f->path);
    hear_piped(f->path, &h);
    sf_assert_is_pcm(f, &h, SF_FRAMES);
    assert_non_null(strstr(h.note, "2^-15"));
    free(h.samples);
    wb_free(&w);
}

/* ---- hostile bytes ---------------------------------------------------------------------------- */

/* Random damage to a good file: whatever comes out, no crash, no endless reading, no more frames than bytes. */
static void damaged_headers_never_break_the_reader(void **state)
{
    struct sf_fixture *f = *state;
    struct rng rng = rng_seeded(99);
    static const uint32_t frame[] = {0, 100};
    static const uint32_t length[] = {10, 20};
    static const char *const label[] = {"w01", "w02"};
    for (int round = 0; round < 2000; round++) {
        struct wav_bytes w = {0};
        struct thrum_source *source = NULL;
        struct thrum_message message;
        wb_riff(&w, round % 3 ? "RIFF" : "RF64", 36 + 400);
        wb_fmt(&w, round % 2 ? 1 : 3, 1, SF_RATE, round % 2 ? 16 : 32);
        sf_put_cue(&w, frame, label, length, 2);
        wb_id(&w, "data");
        wb_u32(&w, 400);
        wb_put(&w, f->pcm, 400);
        sf_put_cue(&w, frame, label, length, 2);
        for (int hit = 0; hit < 1 + round % 7; hit++)
            w.data[(size_t)(rng_uniform(&rng) * (double)w.size)] = (unsigned char)(rng_uniform(&rng) * 256.0);
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
    for (size_t i = 0; i < n; i++)
        samples[i] = (float)(c->left - i);
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
    struct sf_heard h;
    assert_int_equal(thrum_source_from_functions(&functions, &c, &info, &source), THRUM_OK);
    sf_hear(source, &h);
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

#define T(name) cmocka_unit_test_setup_teardown(name, sf_set_up, wb_fixture_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        T(formats_come_through_a_pipe),
        T(a_pipe_of_unknown_length_reads_to_its_end),
        T(chunks_behind_piped_data_are_drained_not_heard),
        T(integers_as_floats_are_scaled_in_a_pipe_too),
        T(damaged_headers_never_break_the_reader),
        cmocka_unit_test(functions_are_a_source),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
