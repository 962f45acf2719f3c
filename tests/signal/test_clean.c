/* Hum taken out of the sound, and nothing else. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signal/clean.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, SECONDS = 20, N = RATE * SECONDS };

struct bench {
    float *hum, *tone, *y;
};

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    if (!b)
        return 1;
    b->hum = calloc(N, sizeof *b->hum);
    b->tone = calloc(N, sizeof *b->tone);
    b->y = calloc(N, sizeof *b->y);
    *state = b;
    return !b->hum || !b->tone || !b->y;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    free(b->hum);
    free(b->tone);
    free(b->y);
    free(b);
    return 0;
}

static void clear(struct bench *b)
{
    memset(b->hum, 0, N * sizeof *b->hum);
    memset(b->tone, 0, N * sizeof *b->tone);
}

static double level_db(const float *x, int from, int to)
{
    double sum = 0.0;
    for (int i = from; i < to; i++)
        sum += (double)x[i] * (double)x[i];
    return thrum_db_from_power(sum / (to - from));
}

static struct thrum_clean *make(double tone_hz)
{
    struct thrum_clean_config config = thrum_clean_config_default(RATE);
    config.n_tones = tone_hz > 0.0;
    config.tones_hz[0] = tone_hz;
    struct thrum_clean *clean;
    assert_int_equal(thrum_clean_create(&config, &clean), THRUM_OK);
    return clean;
}

static void clean_once(const float *x, float *y, double tone_hz)
{
    struct thrum_clean *clean = make(tone_hz);
    thrum_clean_feed(clean, x, y, N);
    thrum_clean_destroy(clean);
}

/* By how much the second half of a hum becomes weaker. */
static double hum_taken_db(struct bench *b, const struct hum *hum, double tone_hz, uint64_t seed)
{
    struct rng rng = rng_seeded(seed);
    clear(b);
    add_hum(&rng, b->hum, N, RATE, hum);
    add_noise(&rng, b->hum, N, 1e-6);
    clean_once(b->hum, b->y, tone_hz);
    return level_db(b->hum, N / 2, N) - level_db(b->y, N / 2, N);
}

static void steady_hum_goes_down_by_40_db(void **state)
{
    struct bench *b = *state;
    const double hz[] = {49.5, 50.1, 61.5};
    for (int i = 0; i < 3; i++) {
        struct hum hum = {.hz = hz[i], .harmonics = 60, .dbfs = -20};
        assert_between(hum_taken_db(b, &hum, 0, 1), 40, 200);
        assert_between(hum_taken_db(b, &hum, 20 * hz[i] + 3.0, 1), 40,
                       200); /* also with a tone 3 Hz off a harmonic */
        hum.slope_hz_s = 0.02;
        assert_between(hum_taken_db(b, &hum, 0, 1), 40, 200);
    }
}

static void wobbling_and_wandering_hum_goes_down_by_25_db(void **state)
{
    struct bench *b = *state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        struct hum hum = {.hz = 50.03, .wander_hz = 0.02, .harmonics = 60, .dbfs = -20, .wobble_db = 1};
        assert_between(hum_taken_db(b, &hum, 0, seed), 25, 200);
        assert_between(hum_taken_db(b, &hum, 1037, seed), 25, 200);
        assert_between(hum_taken_db(b, &hum, 20 * hum.hz + 4.0, seed), 25, 200);
    }
}

/* A notch too narrow to follow the wander by itself is carried along by the wide ones. */
static void wandering_hum_goes_down_beside_a_tone_as_well(void **state)
{
    struct bench *b = *state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        struct hum hum = {.hz = 59.96, .wander_hz = 0.02, .harmonics = 60, .dbfs = -20};
        assert_between(hum_taken_db(b, &hum, 9 * hum.hz + 4.0, seed), 30, 200);
    }
}

/* Straight on from the last five seconds, mains that turned round meanwhile is far off; the phasors know better. */
static void mains_that_turns_round_is_followed(void **state)
{
    struct bench *b = *state;
    double mean = 0.0;
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct hum hum = {.hz = 50.03, .wander_hz = 0.03, .harmonics = 60, .dbfs = -20};
        mean += hum_taken_db(b, &hum, 0, seed) / 8.0;
    }
    assert_between(mean, 33, 200); /* 31 where it draws the phasors back in two seconds */
}

/* Harmonic 21 begins 3.5 Hz below the tone and is 2.7 Hz below it in the end: within the guard, but taken up before. */
static void a_line_that_wanders_into_the_guard_stays_out(void **state)
{
    struct bench *b = *state;
    struct hum hum = {.hz = 50.0, .slope_hz_s = 0.0019, .harmonics = 60, .dbfs = -20};
    assert_between(hum_taken_db(b, &hum, 21 * hum.hz + 3.5, 1), 40, 200); /* 20 dB if it is let go */
}

static void two_mains_go_down_together(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(5);
    struct hum site = {.hz = 50.0, .harmonics = 40, .dbfs = -20},
               generator = {.hz = 61.5, .harmonics = 40, .dbfs = -26};
    clear(b);
    add_hum(&rng, b->hum, N, RATE, &site);
    add_hum(&rng, b->hum, N, RATE, &generator);
    add_noise(&rng, b->hum, N, 1e-5);
    clean_once(b->hum, b->y, 0);
    assert_between(level_db(b->hum, N / 2, N) - level_db(b->y, N / 2, N), 30, 200);
}

static void keyed_tone_3_hz_off_a_harmonic_keeps_its_level(void **state)
{
    struct bench *b = *state;
    for (int i = 0; i < 9; i++) {
        struct rng rng = rng_seeded(20 + (uint64_t)i);
        double off = 3.0 + i % 3 * 2.0;
        struct hum hum = {.hz = 50.0, .harmonics = 60, .dbfs = -60.0 + 20 * (i / 3)};
        struct sender sender = {
            .voice = thrum_voice_beep(1000 + off, 0.25, 0.25), .dbfs = -20, .keep_phase = i % 2};
        clear(b);
        add_sender(&rng, b->tone, N, RATE, &sender);
        add_hum(&rng, b->hum, N, RATE, &hum);
        for (int t = 0; t < N; t++)
            b->hum[t] += b->tone[t];
        clean_once(b->hum, b->y, 1000 + off);
        assert_close(level_db(b->y, N / 2, N), level_db(b->tone, N / 2, N), 0.1);
    }
}

/* By how much beeps of on_s, 3.1 Hz above harmonic `order`, change in the second half: cleaned sound projected on them. */
static double beeps_change_db(struct bench *b, struct hum *hum, int order, double on_s, uint64_t seed)
{
    struct rng rng = rng_seeded(seed);
    hum->hz += rng_between(&rng, -0.1, 0.1);
    double tone = order * hum->hz + 3.1, dot = 0.0, square = 0.0;
    struct sender sender = {.voice = thrum_voice_beep(tone, on_s, on_s), .dbfs = -40};
    clear(b);
    add_sender(&rng, b->tone, N, RATE, &sender);
    add_hum(&rng, b->hum, N, RATE, hum);
    for (int t = 0; t < N; t++)
        b->hum[t] += b->tone[t];
    clean_once(b->hum, b->y, tone);
    for (int t = N / 2; t < N; t++) {
        dot += (double)b->y[t] * (double)b->tone[t];
        square += (double)b->tone[t] * (double)b->tone[t];
    }
    return thrum_db_from_amplitude(dot / square);
}

/* Beeps of 0.1 s are 10 Hz wide and reach into the notch 3 Hz beside them. Less than 0.1 dB is asked; what they lose to
   the notches 50 Hz apart is 0.05 at most, and the near one adds nothing. */
static void short_beeps_beside_a_harmonic_keep_their_level(void **state)
{
    const double on_s[] = {0.06, 0.1, 0.25};
    for (int k = 0; k < 3; k++)
        for (int i = 0; i < 8; i++) {
            struct hum hum = {.hz = 50.0, .harmonics = 60, .dbfs = -20};
            assert_close(beeps_change_db(*state, &hum, 8 + i, on_s[k], 5200 + (uint64_t)i), 0.0, 0.06);
        }
}

/* The harmonic comes from 3.1 Hz to 1.7 Hz beside the tone. */
static void beeps_keep_their_level_while_a_harmonic_wanders_near(void **state)
{
    for (int i = 0; i < 8; i++) {
        struct hum hum = {.hz = 50.0, .slope_hz_s = 0.07 / (8 + i), .harmonics = 60, .dbfs = -20};
        assert_close(beeps_change_db(*state, &hum, 8 + i, 0.25, 5220 + (uint64_t)i), 0.0, 0.03);
    }
}

static void tone_on_a_harmonic_keeps_its_beeps_and_pauses(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(40);
    struct hum hum = {.hz = 50.0, .harmonics = 60, .dbfs = -20};
    struct sender sender = {.voice = thrum_voice_beep(1000, 0.25, 0.25), .dbfs = -20, .keep_phase = 1};
    clear(b);
    add_sender(&rng, b->tone, N, RATE, &sender);
    add_hum(&rng, b->hum, N, RATE, &hum);
    for (int t = 0; t < N; t++)
        b->hum[t] += b->tone[t];
    clean_once(b->hum, b->y, 1000);
    /* harmonic 20 itself is left in: 10 lg(0.1/20 / sum(1/h odd, 0.1/h even to 60)) = -27 dB of the hum, -47 dBFS
       (as mean square -50 dB), computed; the beeps stand 27 dB above it */
    for (int beep = 30; beep < 38; beep++) {
        int at = beep * RATE / 2;
        assert_close(level_db(b->y, at + 200, at + 1800), -23.01, 0.5);
        assert_between(level_db(b->y, at + 2200, at + 3800), -56, -44);
    }
}

static void any_blocks_give_the_same_samples_also_in_place(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(6);
    struct hum first = {.hz = 49.9, .harmonics = 60, .dbfs = -20, .wobble_db = 1}, second = first;
    second.hz = 60.1;
    clear(b);
    add_hum(&rng, b->hum, N / 2, RATE, &first);
    add_hum(&rng, b->hum + N / 2, N / 2, RATE, &second);
    add_noise(&rng, b->hum, N, 1e-3);
    struct thrum_clean *clean = make(1037);
    thrum_clean_feed(clean, b->hum, b->y, N);
    const size_t blocks[] = {1, 64, 441, 4096};
    for (int i = 0; i < 4; i++) {
        memcpy(b->tone, b->hum, N * sizeof *b->tone);
        thrum_clean_reset(clean);
        for (size_t at = 0; at < N; at += blocks[i])
            thrum_clean_feed(clean, b->tone + at, b->tone + at, blocks[i] < N - at ? blocks[i] : N - at);
        assert_memory_equal(b->tone, b->y, N * sizeof *b->tone);
    }
    thrum_clean_destroy(clean);
}

static void nothing_clicks_when_the_mains_changes(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(7);
    struct hum first = {.hz = 50.0, .harmonics = 5, .dbfs = -20}, second = first;
    second.hz = 60.0;
    clear(b);
    add_hum(&rng, b->hum, N, RATE, &first);
    add_hum(&rng, b->tone, N, RATE, &second);
    for (int t = 0; t < N; t++) { /* from one to the other in a second, without a corner */
        double way = t < N / 2          ? 0.0
                     : t > N / 2 + RATE ? 1.0
                                        : 0.5 - 0.5 * cos(THRUM_PI * (t - N / 2) / RATE);
        b->hum[t] = (float)((1.0 - way) * (double)b->hum[t] + way * (double)b->tone[t]);
    }
    add_noise(&rng, b->hum, N, 1e-5);
    clean_once(b->hum, b->y, 1037);
    /* what is taken out is hum of at most 300 Hz and 0.25 high: its second difference is at most 0.25 (2 pi 300 /
       8000)^2 = 0.014, and in this sound below 0.004; the start of the cleaning and the change of mains must not show */
    for (int t = 2; t < N; t++) {
        double bend = 0.0;
        for (int d = 0; d < 3; d++)
            bend += (d == 1 ? -2.0 : 1.0) * ((double)b->hum[t - d] - (double)b->y[t - d]);
        assert_between(fabs(bend), 0.0, 0.005);
    }
    assert_between(level_db(b->y, N - RATE, N), -200, -60); /* the new mains is gone too */
}

static void sound_without_hum_passes_untouched(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(8);
    clear(b);
    clean_once(b->hum, b->y, 0);
    for (int t = 0; t < N; t++)
        assert_true(b->y[t] == 0.0f);
    add_noise(&rng, b->hum, N, 0.01);
    clean_once(b->hum, b->y, 0);
    assert_memory_equal(b->y, b->hum, N * sizeof *b->y);
}

static void clean_tells_what_it_takes_out(void **state)
{
    struct bench *b = *state;
    struct rng rng = rng_seeded(9);
    struct hum hum = {.hz = 59.98, .harmonics = 60, .dbfs = -25};
    clear(b);
    add_hum(&rng, b->hum, N, RATE, &hum);
    struct thrum_clean *clean = make(0);
    assert_close(thrum_clean_removed_dbfs(clean), THRUM_FLOOR_DBFS, 0);
    thrum_clean_feed(clean, b->hum, b->y, N);
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    thrum_clean_mains(clean, mains);
    assert_close(mains[0].hz, 59.98, 0.01);
    assert_close(thrum_clean_removed_dbfs(clean), -25, 0.1);
    thrum_clean_destroy(clean);
}

static void clean_refuses_what_it_cannot_do(void **state)
{
    (void)state;
    struct thrum_clean_config bad[5];
    for (int i = 0; i < 5; i++)
        bad[i] = thrum_clean_config_default(RATE);
    bad[0].rate_hz = 48000;
    bad[1].rate_hz = (double)NAN;
    bad[2].guard_hz = -1;
    bad[3].n_tones = -1;
    bad[4].n_tones = THRUM_MAINS_AVOID + 1;
    for (int i = 0; i < 5; i++) {
        struct thrum_clean *clean = (struct thrum_clean *)&clean;
        assert_int_equal(thrum_clean_create(&bad[i], &clean), THRUM_ERR_ARG);
        assert_null(clean);
    }
    thrum_clean_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_hum_goes_down_by_40_db),
        cmocka_unit_test(wobbling_and_wandering_hum_goes_down_by_25_db),
        cmocka_unit_test(wandering_hum_goes_down_beside_a_tone_as_well),
        cmocka_unit_test(mains_that_turns_round_is_followed),
        cmocka_unit_test(a_line_that_wanders_into_the_guard_stays_out),
        cmocka_unit_test(two_mains_go_down_together),
        cmocka_unit_test(keyed_tone_3_hz_off_a_harmonic_keeps_its_level),
        cmocka_unit_test(short_beeps_beside_a_harmonic_keep_their_level),
        cmocka_unit_test(beeps_keep_their_level_while_a_harmonic_wanders_near),
        cmocka_unit_test(tone_on_a_harmonic_keeps_its_beeps_and_pauses),
        cmocka_unit_test(any_blocks_give_the_same_samples_also_in_place),
        cmocka_unit_test(nothing_clicks_when_the_mains_changes),
        cmocka_unit_test(sound_without_hum_passes_untouched),
        cmocka_unit_test(clean_tells_what_it_takes_out),
        cmocka_unit_test(clean_refuses_what_it_cannot_do),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
