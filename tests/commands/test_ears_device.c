/* What the ears of a round hear, against the stand-in for PortAudio, on a virtual clock: nothing here waits. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "commands/command.h"
#include "commands/ears.h"
#include "commands/ears_sound.h"
#include "portaudio_standin.h"
#include "signals.h"
#include "thrum/practice.h"

#define RATE 48000.0

static struct ears *open_ears(enum ears_mode mode, const char *script)
{
    static struct sound_host host;
    struct thrum_voice voice = thrum_practice_config_default(1).voice;
    struct ears_config config = {
        .mode = mode, .rate_hz = RATE, .channels = 1, .voices = &voice, .n_voices = 1, .host = &host};
    struct ears *ears;
    struct thrum_message message;
    host = standin_host();
    standin_begin(script);
    if (ears_open(&config, &ears, &message) != CODE_DONE)
        fail_msg("%s", message.text);
    return ears;
}

static void end(struct ears *ears)
{
    ears_close(ears);
    standin_end();
}

static struct worker_view *quiet_view(void)
{
    struct worker_view *view = calloc(1, sizeof *view);
    assert_non_null(view);
    view->snapshot.n_senders = 1;
    view->snapshot.rate_hz = RATE;
    view->snapshot.now.steady_dbfs[0] = -200.0;
    view->snapshot.pick[0].outcome = THRUM_TOO_CLOSE;
    return view;
}

static void play_for(struct ears *ears, double seconds)
{
    struct sound_host host = standin_host();
    for (long steps = lrint(seconds / 0.005); steps > 0; steps--) {
        ears_step(ears);
        host.sleep_ns(NULL, 5000000u);
    }
}

/* Amplitude of a tone in what was played, by correlation: DFT at one frequency. */
static double tone(uint64_t first, uint64_t end, double hz)
{
    double re = 0.0, im = 0.0;
    for (uint64_t i = first; i < end; i++) {
        double x = (double)standin_played_sample(i), phase = 6.283185307179586 * hz * (double)i / RATE;
        re += x * cos(phase);
        im += x * sin(phase);
    }
    return 2.0 * hypot(re, im) / (double)(end - first);
}

static double loudest(uint64_t first, uint64_t end)
{
    double most = 0.0;
    for (uint64_t i = first; i < end; i++)
        most = fmax(most, fabs((double)standin_played_sample(i)));
    return most;
}

static void a_guide_sounds_at_the_pitch_of_the_strength(void **state)
{
    (void)state;
    struct worker_view *view = quiet_view();
    struct ears *ears = open_ears(EARS_GUIDE, "device phones;channels 0;outputs 2");
    ears_see(ears, view);
    play_for(ears, 0.5);
    uint64_t at = standin_played();
    assert_close(loudest(0, at), 0.0, 1e-6); /* nothing is heard, nothing sounds */
    static const double strength[] = {-70.0, -50.0, -48.0};
    double hz[3];
    for (int i = 0; i < 3; i++) {
        view->snapshot.now.steady_dbfs[0] = strength[i];
        ears_see(ears, view);
        play_for(ears, 1.0);
        uint64_t now = standin_played();
        hz[i] = ears_guide_hz(strength[i]);
        assert_close(tone(now - 24000, now, hz[i]), 0.15, 0.005); /* the last half second */
        at = now;
    }
    assert_close(hz[1] / hz[0], 2.0, 1e-9);              /* 20 dB: an octave */
    assert_close(hz[2] / hz[1], exp2(2.0 / 20.0), 1e-9); /* 2 dB: more than a semitone */
    assert_true(hz[2] / hz[1] > exp2(1.0 / 12.0));
    end(ears);
    free(view);
}

static void each_piece_of_news_has_its_cue(void **state)
{
    (void)state;
    struct worker_view *view = quiet_view();
    struct ears *ears = open_ears(EARS_CUES, "device phones;channels 0;outputs 1");
    play_for(ears, 0.5);
    uint64_t first = standin_played();
    assert_close(loudest(0, first), 0.0, 1e-6);
    view->snapshot.n_readings = 1;
    ears_see(ears, view);
    play_for(ears, 0.5);
    uint64_t taken = standin_played();
    assert_true(tone(first, first + 8000, 880.0) > 0.05 && tone(first, first + 8000, 1320.0) > 0.05);
    assert_true(tone(first, first + 8000, 220.0) < 0.01);
    ears_see(ears, view); /* no news, no sound */
    play_for(ears, 0.5);
    assert_close(loudest(taken, standin_played()), 0.0, 1e-6);
    uint64_t before = standin_played();
    view->snapshot.n_readings = 2;
    view->snapshot.pick[0].outcome = THRUM_PICKED;
    ears_see(ears, view);
    play_for(ears, 0.6);
    assert_true(tone(before, before + 19200, 660.0) > 0.03); /* the pick, not only the touch */
    end(ears);
    free(view);
}

/* The input goes: that is heard; then the output is let go, so that new devices can be found; then it is there again. */
static void a_lost_input_is_heard_and_the_output_let_go_meanwhile(void **state)
{
    (void)state;
    struct worker_view *view = quiet_view();
    struct ears *ears = open_ears(EARS_GUIDE, "device phones;channels 0;outputs 1");
    view->snapshot.now.steady_dbfs[0] = -50.0;
    ears_see(ears, view);
    play_for(ears, 0.5);
    uint64_t first = standin_played();
    view->input_lost = true;
    ears_see(ears, view);
    play_for(ears, 2.0);
    assert_true(tone(first, first + 24000, 220.0) > 0.1);
    assert_int_equal(standin_open_streams(), 0);
    uint64_t away = standin_played();
    view->input_lost = false;
    ears_see(ears, view);
    play_for(ears, 1.0);
    assert_int_equal(standin_open_streams(), 1);
    uint64_t now = standin_played();
    assert_true(now > away + 24000);
    assert_close(tone(now - 24000, now, ears_guide_hz(-50.0)), 0.15, 0.005);
    assert_string_equal(view->message.text, "");
    end(ears);
    free(view);
}

/* Beeps under hum that is 20 dB louder: after a few seconds the ears hear the beeps 20 dB louder, and hardly any hum. */
static void cleaned_sound_has_the_tone_and_not_the_hum(void **state)
{
    (void)state;
    size_t n = (size_t)(12.0 * RATE);
    float *x = calloc(n, sizeof *x);
    struct rng rng = rng_seeded(9);
    struct sender sender = {.voice = thrum_practice_config_default(1).voice, .dbfs = -50.0, .keep_phase = 1};
    struct hum hum = {.hz = 50.03, .harmonics = 40, .dbfs = -30.0};
    add_sender(&rng, x, n, RATE, &sender);
    add_hum(&rng, x, n, RATE, &hum);
    add_noise(&rng, x, n, 1e-5);
    double hum_in = 0.0, tone_hz = sender.voice.tones_hz[0];
    struct worker_view *view = quiet_view();
    struct ears *ears = open_ears(EARS_CLEANED, "device phones;channels 0;outputs 1");
    ears_see(ears, view);
    for (size_t at = 0; at < n; at += 2400) {
        ears_hear(ears, x + at, 2400);
        play_for(ears, 0.05);
    }
    uint64_t now = standin_played(), from = now - 240000; /* five seconds, ten whole beeps */
    for (int h = 1; h < 40; h++) {
        double re = 0.0, im = 0.0;
        for (size_t i = n - 240000; i < n; i++) {
            double phase = 6.283185307179586 * hum.hz * h * (double)i / RATE;
            re += (double)x[i] * cos(phase);
            im += (double)x[i] * sin(phase);
        }
        double in = 2.0 * hypot(re, im) / 240000.0;
        hum_in = fmax(hum_in, in);
        assert_true(tone(from, now, hum.hz * h) < 10.0 * in + 1e-4); /* no harmonic is louder than it was */
    }
    double hum_out = 0.0;
    for (int h = 1; h < 40; h++)
        hum_out = fmax(hum_out, tone(from, now, hum.hz * h));
    assert_true(hum_out < 10.0 * hum_in / 31.6); /* 30 dB less of its strongest line */
    /* half of the time on: half of the amplitude over all of it; -50 dBFS is 0.00316, and 20 dB more */
    assert_close(20.0 * log10(2.0 * tone(from, now, tone_hz) / 0.0316), 0.0, 0.5);
    end(ears);
    free(view);
    free(x);
}

/* As worker_look() does: what the worker said last comes again with every look. */
static void look(struct ears *ears, struct worker_view *view, const char *said, double said_s)
{
    strcpy(view->message.text, said);
    view->message_s = said_s;
    ears_see(ears, view);
}

static void an_output_that_dies_is_told_and_the_round_goes_on(void **state)
{
    (void)state;
    static const char *const scripts[] = {"device phones;channels 0;outputs 1;deaf_after 24000",
                                          "device phones;channels 0;outputs 1;write_error_after 24000 -9999"};
    for (int i = 0; i < 2; i++) {
        struct thrum_message message;
        struct worker_view *view = quiet_view();
        struct ears *ears = open_ears(EARS_GUIDE, scripts[i]);
        double began_s = standin_now_s();
        play_for(ears, 3.0);
        assert_true(standin_now_s() - began_s < 5.5);
        look(ears, view, "older", 0.1);
        assert_non_null(strstr(view->message.text, "phones"));
        assert_non_null(strstr(view->message.text, "the round goes on"));
        assert_true(ears_gone(ears, &message));
        double gone_s = view->message_s;
        assert_true(gone_s > 0.1);
        play_for(ears, 1.0);
        look(ears, view, "older", 0.1);
        assert_string_equal(view->message.text, message.text);
        assert_close(view->message_s, gone_s, 0.0);
        look(ears, view, "newer", gone_s + 1.0);
        assert_string_equal(view->message.text, "newer");
        /* with an input that went and came back it is tried again */
        uint64_t before = standin_played();
        view->input_lost = true;
        look(ears, view, "INPUT LOST", 0.2);
        play_for(ears, 0.1);
        assert_string_equal(view->message.text, "INPUT LOST");
        assert_false(ears_gone(ears, &message));
        view->input_lost = false;
        look(ears, view, "", 0.3);
        play_for(ears, 0.1);
        assert_true(standin_played() > before);
        end(ears);
        free(view);
    }
}

static void ears_that_do_not_open_have_words(void **state)
{
    (void)state;
    struct sound_host host = standin_host();
    struct ears_config config = {
        .mode = EARS_GUIDE, .output = "usb", .rate_hz = RATE, .channels = 1, .host = &host};
    struct ears *ears;
    struct thrum_message message;
    standin_begin("device USB;outputs 2;device USB;outputs 2");
    assert_int_equal(ears_open(&config, &ears, &message), CODE_USAGE);
    assert_non_null(strstr(message.text, "'ALSA: USB #2'"));
    assert_null(ears);
    standin_end();
    standin_begin("device mic");
    assert_int_equal(ears_open(&config, &ears, &message), CODE_DEVICE);
    assert_non_null(strstr(message.text, "no sound output found"));
    standin_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_guide_sounds_at_the_pitch_of_the_strength),
        cmocka_unit_test(each_piece_of_news_has_its_cue),
        cmocka_unit_test(a_lost_input_is_heard_and_the_output_let_go_meanwhile),
        cmocka_unit_test(cleaned_sound_has_the_tone_and_not_the_hum),
        cmocka_unit_test(an_output_that_dies_is_told_and_the_round_goes_on),
        cmocka_unit_test(ears_that_do_not_open_have_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
