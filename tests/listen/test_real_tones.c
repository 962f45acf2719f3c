/* Real tones: off-air Morse and data, crossing signals in the street, a patient monitor. */
#include <stdio.h>
#include <stdlib.h>

#include "check.h"
#include "real_sound.h"
#include "thrum/learn.h"

static struct thrum_learned learn(const char *name, double from_s, double length_s)
{
    return real_learn(real_folder(), name, from_s, length_s);
}

static void morse_and_data_are_told_from_a_sender(void **state)
{
    (void)state;
    static const char *const names[] = {"tone/cw_20000217_082424.flac", "tone/cw_20000224_104625.flac",
                                        "tone_gpl3/rtty_450Hz_shift_offair.flac"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        assert_int_equal(learn(names[i], 0.0, 8.0).what, THRUM_NOT_DATA);
}

/* A monitor that sounds half a second in each, as its list of contents has it: 949.8 Hz. */
static void a_monitor_is_learned(void **state)
{
    (void)state;
    struct thrum_learned learned = learn("tone/icu_beep_d5.wav", 0.0, 4.0);
    assert_int_equal(learned.what, THRUM_VOICE_FOUND);
    assert_close(learned.voice.tones_hz[0], 949.83, 1.0);
    assert_close(thrum_voice_cycle_s(&learned.voice), 1.0, 0.01);
    assert_close(learned.voice.step[0].s, 0.5, 0.01);
}

/* ---- crossing signals: a call of two tones, 1108 and 900 Hz to a per cent ------------------------ */

static const char *const crossings[] = {
    "tone_gpl3/aps_slsem5o2016_10_22_15_39_10", "tone_gpl3/aps_slsem9s2016_10_22_06_42_47",
    "tone_gpl3/aps_slsem6o2016_10_15_06_37_00", "tone_gpl3/aps_sdsem2s2013_07_03_13_50_12",
    "tone_gpl3/aps_sasem2o2013_07_03_13_48_55"};
#define OTHER_CALL "tone_gpl3/aps_sasem3o2013_07_03_15_09_50.flac"
#define LEARNED    2 /* those that are learned from */
#define LENGTH_S   6.0
#define HAND_S     0.05 /* a hand that marks by ear is no better */

/* When people heard the first tone of a call begin. Times in the first column, in seconds, with a decimal comma; p and s are
 * the first and the second tone. */
static int read_marks(const char *name, double *at_s, int most)
{
    char path[1024], line[200];
    int n = 0;
    snprintf(path, sizeof path, "%s/%s.txt", real_folder(), name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    while (n < most && fgets(line, sizeof line, file)) {
        int whole, millionths;
        char kind;
        if (sscanf(line, "%d,%6d %*s %c", &whole, &millionths, &kind) == 3 && kind == 'p')
            at_s[n++] = whole + 1e-6 * millionths;
    }
    fclose(file);
    assert_true(n > 3);
    return n;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static double median_period(const double *at_s, int n)
{
    double period[64];
    for (int i = 1; i < n; i++)
        period[i - 1] = at_s[i] - at_s[i - 1];
    qsort(period, (size_t)(n - 1), sizeof *period, by_size);
    return period[(n - 1) / 2];
}

static struct thrum_learned learn_call(int i)
{
    char name[200];
    snprintf(name, sizeof name, "%s.flac", crossings[i]);
    struct thrum_learned learned = learn(name, 5.0, 8.0);
    assert_int_equal(learned.what, THRUM_VOICE_FOUND);
    return learned;
}

static void a_call_is_learned_as_people_timed_it(void **state)
{
    (void)state;
    for (int i = 0; i < LEARNED; i++) {
        struct thrum_learned learned = learn_call(i);
        double at_s[64], low = fmin(learned.voice.tones_hz[0], learned.voice.tones_hz[1]);
        int n = read_marks(crossings[i], at_s, 64);
        assert_int_equal(learned.voice.n_tones, 2);
        assert_close(low, 900.0, 9.0);
        assert_close(learned.voice.tones_hz[0] + learned.voice.tones_hz[1] - low, 1108.0, 11.0);
        assert_close(thrum_voice_cycle_s(&learned.voice), median_period(at_s, n), 0.02);
    }
}

/* How far a call that was heard to begin at this time is from the next one that somebody marked. */
static double from_mark_s(const double *mark_s, int n, double at_s)
{
    double least = (double)INFINITY;
    for (int i = 0; i < n; i++)
        least = fmin(least, fabs(mark_s[i] - at_s));
    return least;
}

/* Heard in the streets of five crossings, three of which nobody learned from, every call begins where people marked it. */
static void a_call_is_heard_when_people_heard_it(void **state)
{
    (void)state;
    struct thrum_voice voice = learn_call(0).voice;
    double cycle_s = thrum_voice_cycle_s(&voice), first_s = 0.0;
    int touches = 0, heard = 0;
    for (int step = 0; voice.tones_hz[voice.step[step].tone < 0 ? 0 : voice.step[step].tone] < 1000.0; step++)
        first_s += voice.step[step].s; /* the high tone begins a call */
    for (size_t i = 0; i < sizeof crossings / sizeof *crossings; i++) {
        char name[200];
        double mark_s[64];
        int n = read_marks(crossings[i], mark_s, 64);
        snprintf(name, sizeof name, "%s.flac", crossings[i]);
        for (double at = 0.0; at + LENGTH_S <= 12.0; at += 3.0) {
            struct real_sound sound = real_read(real_folder(), name, at, LENGTH_S, true);
            struct thrum_reading reading = real_measure(sound.x, sound.n, sound.rate_hz, &voice, 1);
            const struct thrum_strength *strength = &reading.strength[0];
            free(sound.x);
            touches++;
            if (!strength->heard)
                continue;
            heard++;
            double begins_s = at + cycle_s + first_s - strength->phase_s;
            assert_true(from_mark_s(mark_s, n, begins_s) < HAND_S);
        }
    }
    print_message("%d of %d stretches of %.0f s heard\n", heard, touches, LENGTH_S);
    assert_true(heard >= touches * 3 / 4); /* the call is not on all the time */
}

static void another_call_is_not_heard(void **state)
{
    (void)state;
    struct thrum_voice voice = learn_call(0).voice;
    for (double at = 0.0; at + LENGTH_S <= 14.0; at += 2.0) {
        struct real_sound sound = real_read(real_folder(), OTHER_CALL, at, LENGTH_S, true);
        struct thrum_reading reading = real_measure(sound.x, sound.n, sound.rate_hz, &voice, 1);
        free(sound.x);
        assert_false(reading.strength[0].heard);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(morse_and_data_are_told_from_a_sender),
        cmocka_unit_test(a_monitor_is_learned),
        cmocka_unit_test(a_call_is_learned_as_people_timed_it),
        cmocka_unit_test(a_call_is_heard_when_people_heard_it),
        cmocka_unit_test(another_call_is_not_heard),
    };
    return real_folder() ? cmocka_run_group_tests(tests, NULL, NULL) : REAL_SKIPPED;
}
