/* Strength over time, heard from a recording of a known level. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "check.h"
#include "commands/levels_heard.h"
#include "commands/wav16.h"

#define RATE    8000
#define SECONDS 8
#define BEEP_S  0.5
#define TONE_HZ 1037.0
#define PI      3.14159265358979323846

/* A sine of amplitude 0.1 on and off, which is -20 dBFS while it is on (AES17: a full-scale sine is 0), a little noise, and hum of ten
 * harmonics. path is to be unlinked. */
static void write_beeps(char path[32], double hum)
{
    static float x[RATE * SECONDS];
    struct wav16 wav;
    for (int i = 0; i < RATE * SECONDS; i++) {
        double t = (double)i / RATE,
               sum = fmod(t, 2 * BEEP_S) < BEEP_S ? 0.1 * sin(2.0 * PI * TONE_HZ * t) : 0.0;
        for (int k = 1; k <= 10; k++)
            sum += hum / k * sin(2.0 * PI * 50.0 * k * t + k);
        x[i] = (float)(sum + 1e-4 * sin(i * 0.37 * i));
    }
    strcpy(path, "/tmp/thrum-levels-XXXXXX");
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    assert_int_equal(wav16_open(path, RATE, true, &wav), 0);
    assert_int_equal(wav16_write(&wav, x, RATE * SECONDS), 0);
    assert_int_equal(wav16_close(&wav), 0);
}

static struct findings *one_sender(void)
{
    struct findings *findings = findings_create();
    assert_non_null(findings);
    findings->snapshot.n_senders = 1;
    findings->snapshot.sender[0] = thrum_voice_beep(TONE_HZ, BEEP_S, BEEP_S);
    return findings;
}

/* Each level in the middle of a beep is that of the tone, each in the middle of a pause far below it: 0.2 s after the change. */
static void assert_beeps(const struct levels_heard *levels, size_t from, size_t end)
{
    for (size_t i = from; i < end; i++) {
        double into =
            fmod((double)(i + 1) * LEVELS_STEP_S, 2 * BEEP_S); /* level i is that at the end of its step */
        if (into > 0.19 && into < BEEP_S - 0.05)
            assert_close(levels->dbfs[0][i], -20.0, 0.5);
        else if (into > BEEP_S + 0.19 && into < 2 * BEEP_S - 0.05)
            assert_true(levels->dbfs[0][i] < -40.0F);
    }
}

static void levels_are_those_of_the_tone(void **state)
{
    char path[32];
    struct levels_heard levels;
    struct findings *findings = one_sender();
    (void)state;
    write_beeps(path, 0.0);
    assert_true(levels_hear(&levels, findings, (const char *const[]){path}, 1));
    assert_int_equal(levels.n, 10 * SECONDS);
    assert_beeps(&levels, 2, levels.n);
    levels_free(&levels);
    unlink(path);
    findings_destroy(findings);
}

/* Hum 14 dB over the tone: it is a gap at first, and taken out from then on. */
static void levels_are_unknown_until_the_hum_is_known(void **state)
{
    char path[32];
    struct levels_heard levels;
    struct findings *findings = one_sender();
    (void)state;
    write_beeps(path, 0.5);
    assert_true(levels_hear(&levels, findings, (const char *const[]){path}, 1));
    size_t gap = 0;
    while (gap < levels.n && isnan(levels.dbfs[0][gap]))
        gap++;
    assert_between((double)gap, 5, 25);
    assert_beeps(&levels, gap, levels.n);
    levels_free(&levels);
    unlink(path);
    findings_destroy(findings);
}

/* Recordings stand one after the other; one that is not there adds nothing, and readings find their place. */
static void recordings_follow_one_another(void **state)
{
    char path[32];
    struct levels_heard levels;
    struct findings *findings = one_sender();
    (void)state;
    write_beeps(path, 0.0);
    findings->snapshot.n_readings = 1;
    findings->snapshot.readings[0] =
        (struct thrum_reading){.rate_hz = RATE, .first_frame = RATE, .frames = RATE};
    findings_source(findings, 0, 1, path);
    assert_true(levels_hear(&levels, findings, (const char *const[]){"/nowhere.wav", "-", path, path}, 4));
    assert_int_equal(levels.n, 2 * 10 * SECONDS);
    assert_close(levels.begin_s[2], 0.0, 1e-9);
    assert_close(levels.begin_s[3], SECONDS, 1e-9);
    assert_close(levels_when(&levels, findings, 0), 1.0, 1e-9);
    findings_source(findings, 0, 1, "other.wav");
    assert_true(levels_when(&levels, findings, 0) < 0.0);
    levels_free(&levels);
    unlink(path);
    findings_destroy(findings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels_are_those_of_the_tone),
        cmocka_unit_test(levels_are_unknown_until_the_hum_is_known),
        cmocka_unit_test(recordings_follow_one_another),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
