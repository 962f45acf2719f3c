/* The true PortAudio, fed by a sound card made of a file (tests/tools): every sample arrives, exactly, and is recorded.
 *
 * The program runs itself again under play-into-portaudio.sh; what it does there is chosen by the first argument.
 * Nothing is judged by the wall clock: the child reads until it has the frames it wants, and a time limit ends a hang.
 */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "signals.h"
#include "sound/inputs.h"
#include "sound/recorder.h"
#include "sound/source.h"
#include "wav_bytes.h"

#define RATE   48000u
#define FRAMES 144000u /* 3 s */
#define LEAD   14400u  /* 300 ms of silence before it, as the script makes them */

/* ---- the child -------------------------------------------------------------------------------- */

/* Records until everything has been played, and 0.1 s more. */
static int child_record(const char *folder)
{
    struct thrum_source *source = NULL;
    struct thrum_recorder *recorder = NULL;
    struct thrum_message message;
    static float samples[4096 * 2];
    if (thrum_source_open_device("default", &source, &message) != THRUM_OK) {
        fprintf(stderr, "%s\n", message.text);
        return 10;
    }
    const struct thrum_source_info *info = thrum_source_info(source);
    struct thrum_recorder_config config = {.folder = folder,
                                           .stem = "live",
                                           .rate_hz = info->rate_hz,
                                           .channels = info->channels,
                                           .about = NULL};
    if (info->channels > 2 || thrum_recorder_create(&config, &recorder, &message) != THRUM_OK)
        return 11;
    const char *speed = getenv("SPEED");
    bool fast = speed && strcmp(speed, "4") == 0;
    int trouble = 0;
    while (thrum_recorder_frames(recorder) < LEAD + FRAMES + RATE / 10) {
        struct thrum_source_block block;
        thrum_source_read(source, samples, 4096, &block);
        /* a card four times too fast has a rate of its own, once that is known */
        trouble += block.event != THRUM_SOURCE_DATA && !(fast && block.event == THRUM_SOURCE_RATE) ? 1 : 0;
        if (thrum_recorder_write(recorder, samples, block.frames, &message) != THRUM_OK)
            return 12;
    }
    thrum_source_close(source);
    if (thrum_recorder_close(recorder, &message) != THRUM_OK)
        return 13;
    return trouble ? 14 : 0;
}

/* Reads until an event of that kind; 0 when nothing but GONE came before it. */
static int child_expect(enum thrum_source_event wanted)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    static float samples[4096 * 2];
    int others = 0;
    if (thrum_source_open_device(NULL, &source, &message) != THRUM_OK)
        return 10;
    for (;;) {
        struct thrum_source_block block;
        thrum_source_read(source, samples, 4096, &block);
        if (block.event == wanted)
            break;
        others += block.event != THRUM_SOURCE_DATA && block.event != THRUM_SOURCE_GONE ? 1 : 0;
    }
    thrum_source_close(source);
    return others ? 14 : 0;
}

static int child_refused(const char *words)
{
    struct thrum_source *source = NULL;
    struct thrum_message message;
    if (thrum_source_open_device(NULL, &source, &message) != THRUM_ERR_DEVICE || source)
        return 15;
    fprintf(stderr, "%s\n", message.text);
    return strstr(message.text, words) ? 0 : 16;
}

static int child_list(void)
{
    struct thrum_input inputs[8];
    struct thrum_message message;
    int count = 0;
    if (thrum_inputs_list(inputs, 8, &count, &message) != THRUM_OK || count != 1)
        return 17;
    return strcmp(inputs[0].name, "ALSA: default") == 0 && inputs[0].is_default && !inputs[0].monitor ? 0
                                                                                                      : 18;
}

static int child(char **argv)
{
    if (strcmp(argv[1], "record") == 0)
        return child_record(argv[2]);
    if (strcmp(argv[1], "lost") == 0)
        return child_expect(THRUM_SOURCE_LOST);
    if (strcmp(argv[1], "back") == 0)
        return child_expect(THRUM_SOURCE_BACK);
    if (strcmp(argv[1], "rate") == 0)
        return child_expect(THRUM_SOURCE_RATE);
    if (strcmp(argv[1], "list") == 0)
        return child_list();
    return child_refused(argv[2]);
}

/* ---- the parent ------------------------------------------------------------------------------- */

struct fixture {
    char folder[200];
    char wav[300];
    short pcm[FRAMES];
};

static int set_up(void **state)
{
    wb_fixture_make(state, sizeof(struct fixture));
    struct fixture *f = *state;
    struct wav_bytes w = {0};
    struct rng rng = rng_seeded(11);
    for (size_t i = 0; i < FRAMES; i++)
        f->pcm[i] = (short)(rng_normal(&rng) * 5000.0);
    wb_riff(&w, "RIFF", 36 + sizeof f->pcm);
    wb_fmt(&w, 1, 1, RATE, 16);
    wb_id(&w, "data");
    wb_u32(&w, sizeof f->pcm);
    wb_put(&w, f->pcm, sizeof f->pcm);
    wb_save(&w, f->folder, "played.wav", f->wav, sizeof f->wav);
    wb_free(&w);
    return 0;
}

/* Runs a command under the sound card; its exit status, 125 where the card cannot be built. */
static int run_under(const char *settings, const char *wav, const char *command)
{
    char line[2000];
    const char *source = getenv("THRUM_SOURCE");
    snprintf(line, sizeof line, "%s LIMIT_S=120 bash '%s/tests/tools/play-into-portaudio.sh' '%s' %s",
             settings, source ? source : ".", wav, command);
    int status = system(line);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* Runs this program again with that input. */
static int under_card(const struct fixture *f, const char *settings, const char *what, const char *argument)
{
    char self[400];
    char command[1000];
    ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    assert_true(n > 0);
    self[n] = '\0';
    snprintf(command, sizeof command, "'%s' %s '%s'", self, what, argument);
    return run_under(settings, f->wav, command);
}

static void check_recording(const struct fixture *f)
{
    char path[300];
    SF_INFO info = {.format = 0};
    snprintf(path, sizeof path, "%s/live.wav", f->folder);
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    int channels = info.channels;
    int *got = calloc((size_t)info.frames * (size_t)channels, sizeof *got);
    assert_non_null(got);
    assert_int_equal(sf_readf_int(file, got, info.frames), info.frames);
    sf_close(file);
    size_t wrong = 0;
    for (size_t i = 0; i < (size_t)info.frames; i++) {
        int want = i < LEAD || i >= LEAD + FRAMES ? 0 : f->pcm[i - LEAD] * 65536;
        for (int c = 0; c < channels; c++)
            wrong += got[i * (size_t)channels + (size_t)c] != want ? 1 : 0;
    }
    free(got);
    assert_int_equal(wrong, 0);
    unlink(path);
}

static void every_sample_of_a_real_stream_is_recorded_exactly(void **state)
{
    struct fixture *f = *state;
    static const char *const settings[] = {"SPEED=4", "SPEED=4 STRICT=1", "SPEED=1"};
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(under_card(f, settings[i], "record", f->folder), 0);
        check_recording(f);
    }
}

static void an_overrun_is_told_as_lost_frames(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(under_card(f, "FAULT=xrun@1.5", "lost", ""), 0);
    assert_int_equal(under_card(f, "FAULT=stall@1.5:400 STRICT=1 NERVOUS=1", "back", ""), 0);
}

static void an_input_that_dies_is_opened_again(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(under_card(f, "FAULT=die@1.0", "back", ""), 0);
    assert_int_equal(under_card(f, "FAULT=hang@1.0", "back", ""), 0);
}

/* Says 48000 and delivers 44100 by the clock. */
static void a_wrong_rate_is_told(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(under_card(f, "SPEED=0.91875", "rate", ""), 0);
}

static void inputs_that_do_not_open_have_words(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(under_card(f, "FAULT=busy", "refused", "no sound input found"), 0);
    assert_int_equal(under_card(f, "FAULT=nostart", "refused", "cannot be opened"), 0);
}

static void the_one_input_is_listed(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(under_card(f, "", "list", ""), 0);
}

#define T(name) cmocka_unit_test_setup_teardown(name, set_up, wb_fixture_remove)

int main(int argc, char **argv)
{
    if (argc > 1)
        return child(argv);
    if (run_under("", "-", "true") != 0) {
        fprintf(stderr,
                "skipped: the sound card plugin cannot be built here (cc and libasound2-dev are needed)\n");
        return 77;
    }
    const struct CMUnitTest tests[] = {
        T(every_sample_of_a_real_stream_is_recorded_exactly),
        T(an_overrun_is_told_as_lost_frames),
        T(an_input_that_dies_is_opened_again),
        T(a_wrong_rate_is_told),
        T(inputs_that_do_not_open_have_words),
        T(the_one_input_is_listed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
