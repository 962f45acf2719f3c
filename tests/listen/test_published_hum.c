/* Hum of the published spectrum of public supplies: a tone above it, between its lines and on one of them. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signals.h"
#include "thrum/listen.h"
#include "thrum/units.h"

enum { RATE = 16000, N = 3 * RATE, ORDERS = 25 };
#define HUM_DBFS  (-12.0)
#define TONE_DBFS (-45.0)

/* EN 50160:2010 Table 1: each harmonic's 95 % value, per cent of the fundamental (read in a transcription). */
static const double percent[ORDERS + 1] = {0,   100, 2.0, 5.0, 1.0, 6.0, 0.5, 5.0, 0.5, 1.5, 0.5, 3.5, 0.5,
                                           3.0, 0.5, 0.5, 0.5, 2.0, 0.5, 1.5, 0.5, 0.5, 0.5, 1.5, 0.5, 1.5};

static void add_published_hum(struct rng *rng, float *x, double mains_hz)
{
    double amplitude = thrum_amplitude_from_db(HUM_DBFS);
    for (int h = 1; h <= ORDERS; h++) {
        double phase = 2 * THRUM_PI * rng_uniform(rng);
        for (int i = 0; i < N; i++)
            x[i] +=
                (float)(amplitude * percent[h] / 100.0 * cos(2 * THRUM_PI * h * mains_hz * i / RATE + phase));
    }
}

static struct thrum_reading measured(const float *x, const struct thrum_voice *voice)
{
    struct thrum_listener_config config = {
        .rate_hz = RATE, .channels = 1, .channel = -1, .n_voices = 1, .voice = {*voice}};
    struct thrum_listener *listener;
    struct thrum_reading reading;
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    thrum_listener_feed(listener, x, N);
    thrum_listener_finish(listener);
    assert_int_equal(thrum_listener_measure(listener, (struct thrum_span){0, N}, &reading), THRUM_OK);
    thrum_listener_destroy(listener);
    return reading;
}

static double worst_error_db(double mains_hz, double tone_hz, bool on_harmonic)
{
    static float x[N];
    double worst = 0.0;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct rng rng = rng_seeded(seed);
        struct sender sender = {.voice = thrum_voice_beep(tone_hz, 0.25, 0.25), .dbfs = TONE_DBFS};
        memset(x, 0, sizeof x);
        sender.start_s = 0.5 * rng_uniform(&rng);
        add_noise(&rng, x, N, 1e-4);
        add_published_hum(&rng, x, mains_hz);
        double truth = add_sender(&rng, x, N, RATE, &sender);
        struct thrum_reading reading = measured(x, &sender.voice);
        assert_true(reading.strength[0].heard);
        assert_close(reading.mains_hz, mains_hz, 0.01); /* IEC 61000-4-30 class A asks 10 mHz of 10 s */
        assert_int_equal(!!(reading.faults & THRUM_FAULT_HUM_ON_TONE), on_harmonic);
        worst = fmax(worst, fabs(reading.strength[0].dbfs - truth));
    }
    return worst;
}

/* Supplies that are a percent off, and American ones; tones of 1 to 3 kHz beside their lines. A fixed comb misses these. */
static void tones_beside_the_published_hum_are_measured(void **state)
{
    (void)state;
    const double mains[] = {49.5, 50.0, 50.5, 59.95, 60.05};
    for (int m = 0; m < 5; m++)
        for (double tone = 1000.0; tone <= 3000.0; tone += 500.0) {
            double h = floor(tone / mains[m]);
            assert_between(worst_error_db(mains[m], (h + 0.4) * mains[m], false), 0.0, 0.5);
        }
}

/* On a line it is told, and measured no worse than 0.5 dB all the same. */
static void a_tone_on_a_line_of_the_published_hum_says_so(void **state)
{
    (void)state;
    const double mains[] = {49.5, 50.0, 50.5, 59.95, 60.05};
    for (int m = 0; m < 5; m++)
        assert_between(worst_error_db(mains[m], 23 * mains[m], true), 0.0, 0.5);
}

/* The table's own check: EN 50160 allows 8 % of distortion to order 40; 25 orders at their limits are 11.3 % (computed). */
static void hum_is_as_loud_as_its_parts(void **state)
{
    (void)state;
    static float x[N];
    struct rng rng = rng_seeded(9);
    struct thrum_voice voice = thrum_voice_beep(1037, 0.25, 0.25);
    double square = 0.0;
    for (int h = 1; h <= ORDERS; h++)
        square += percent[h] * percent[h] / 1e4;
    memset(x, 0, sizeof x);
    add_noise(&rng, x, N, 1e-4);
    add_published_hum(&rng, x, 50.0);
    assert_close(sqrt(square - 1.0), 0.113247, 1e-5);
    assert_close(measured(x, &voice).hum_dbfs, HUM_DBFS + 10 * log10(square), 0.05);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_beside_the_published_hum_are_measured),
        cmocka_unit_test(a_tone_on_a_line_of_the_published_hum_says_so),
        cmocka_unit_test(hum_is_as_loud_as_its_parts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
