/* Faults of an input: each found, and none found where there is none. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signal/repeats.h"
#include "signal/trust.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 48000, SECONDS = 4, N = RATE * SECONDS };

static int set_up(void **state)
{
    *state = calloc(2 * N, sizeof(float));
    return *state == NULL;
}

static int tear_down(void **state)
{
    free(*state);
    return 0;
}

/* A beeping sender with noise, as any honest input brings it; at least 16 bits deep. */
static void honest(float *x, uint64_t seed, double dbfs)
{
    struct rng rng = rng_seeded(seed);
    struct sender sender = {.voice = thrum_voice_beep(rng_between(&rng, 300, 3400), 0.25, 0.25),
                            .dbfs = dbfs};
    memset(x, 0, N * sizeof *x);
    add_sender(&rng, x, N, RATE, &sender);
    add_noise(&rng, x, N, 1e-4);
}

static void round_to_16_bits(float *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] = (float)nearbyint(fmax(-32768.0, fmin(32767.0, (double)x[i] * 32768.0))) / 32768.0f;
}

static struct thrum_trust_report look_through(const float *x, size_t frames, int channels, int channel,
                                              double rate)
{
    struct thrum_trust *trust;
    struct thrum_trust_report report;
    assert_int_equal(thrum_trust_create(rate, channels, &trust), THRUM_OK);
    thrum_trust_feed(trust, x, frames);
    assert_int_equal(thrum_trust_frames(trust), frames);
    thrum_trust_report(trust, 0, frames, channel, &report);
    thrum_trust_destroy(trust);
    return report;
}

static uint32_t faults_of(const float *x)
{
    return look_through(x, N, 1, -1, RATE).faults;
}

static void honest_inputs_have_no_fault(void **state)
{
    float *x = *state;
    for (uint64_t seed = 0; seed < 60; seed++) {
        honest(x, seed, seed % 3 ? -40 : -6);
        if (seed % 2)
            round_to_16_bits(x, N);
        assert_int_equal(faults_of(x), 0);
    }
}

static void silence_is_one_value_and_nothing_else(void **state)
{
    float *x = *state;
    struct rng rng = rng_seeded(1);
    memset(x, 0, N * sizeof *x);
    assert_int_equal(faults_of(x), THRUM_FAULT_SILENT);
    add_dc(x, N, -0.003);
    assert_int_equal(faults_of(x), THRUM_FAULT_SILENT);
    for (int i = 0; i < N; i++) /* +-1 LSB is a living input */
        x[i] = (float)((int)(3 * rng_uniform(&rng)) - 1) / 32768.0f;
    assert_int_equal(faults_of(x), 0);
    memset(x, 0, N * sizeof *x);
    x[N / 2] = 1.0f / 32768.0f;
    assert_int_equal(faults_of(x) & THRUM_FAULT_SILENT, 0);
}

static void cut_off_tops_are_clipped_at_the_rail_and_below(void **state)
{
    float *x = *state;
    const float rails[] = {1.0f, 0.99f, 0.5f, 0.1f};
    for (int r = 0; r < 4; r++)
        for (int bits = 0; bits < 2; bits++) {
            honest(x, 10, 20 * log10(2.0 * (double)rails[r])); /* twice too loud */
            for (int i = 0; i < N; i++)
                x[i] = fmaxf(-rails[r], fminf(rails[r], x[i]));
            if (bits)
                round_to_16_bits(x, N);
            assert_int_equal(faults_of(x), THRUM_FAULT_CLIPPED);
        }
}

/* An amplifier that clips before the converter: the converter's noise lies on the flat tops. The hand wobbles. */
static void tops_cut_off_before_the_converter_are_clipped_noise_or_not(void **state)
{
    float *x = *state;
    const double rails[] = {0.5, 0.05}, hum_dbfs[] = {-60, 0}, over_db[] = {-1, 6};
    for (uint64_t t = 0; t < 16; t++) {
        double rail = rails[t & 1], over = over_db[t >> 1 & 1], peak = 0.0;
        struct rng rng = rng_seeded(5100 + t);
        struct sender sender = {.voice = thrum_voice_beep(rng_between(&rng, 320, 2000), 0.25, 0.25),
                                .dbfs = -20,
                                .wobble_db = 1.0,
                                .square = t >> 3 & 1};
        struct hum hum = {.hz = 50, .harmonics = 8, .dbfs = hum_dbfs[t >> 2 & 1], .wobble_db = 1.0};
        memset(x, 0, N * sizeof *x);
        add_sender(&rng, x, N, RATE, &sender);
        add_hum(&rng, x, N, RATE, &hum);
        for (int i = 0; i < N; i++)
            peak = fmax(peak, fabs((double)x[i]));
        double gain = rail / peak * thrum_amplitude_from_db(over);
        for (int i = 0; i < N; i++)
            x[i] = (float)fmax(-rail, fmin(rail, gain * (double)x[i]));
        add_noise(&rng, x, N, 3e-4 * rail);
        round_to_16_bits(x, N);
        assert_int_equal(faults_of(x) & THRUM_FAULT_CLIPPED, over > 0.0 ? THRUM_FAULT_CLIPPED : 0);
    }
}

static void one_cut_off_top_at_the_rail_is_enough_and_any_sample_beyond_it(void **state)
{
    float *x = *state;
    honest(x, 11, -20);
    for (int i = 0; i < 8; i++)
        x[N / 3 + i] = 32767.0f / 32768.0f;
    assert_int_equal(faults_of(x), THRUM_FAULT_CLIPPED);
    honest(x, 11, -20);
    x[1000] = -1.0001f;
    assert_int_equal(faults_of(x), THRUM_FAULT_CLIPPED);
    honest(x, 11, -20);
    x[1000] = -1.0f; /* a single sample at the rail is not */
    assert_int_equal(faults_of(x), 0);
}

static void rounded_tops_and_square_waves_are_not_clipped(void **state)
{
    float *x = *state;
    /* a slow pure wave in 16 bits has many equal samples at its very top */
    const double hz[] = {20, 50, 60, 333}, amplitude[] = {0.5, 0.02, 0.9, 0.999};
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < 4; k++) {
            for (int t = 0; t < N; t++)
                x[t] = (float)(amplitude[k] * sin(2 * THRUM_PI * hz[i] * t / RATE));
            round_to_16_bits(x, N);
            assert_int_equal(faults_of(x) & THRUM_FAULT_CLIPPED, 0);
        }
    /* a sender's square wave, clean and with the least noise */
    struct rng rng = rng_seeded(12);
    for (int noisy = 0; noisy < 2; noisy++) {
        for (int t = 0; t < N; t++)
            x[t] = fmod(t * 1000.0 / RATE, 1.0) < 0.5 ? 0.25f : -0.25f;
        if (noisy)
            add_noise(&rng, x, N, 1e-3);
        round_to_16_bits(x, N);
        assert_int_equal(faults_of(x) & THRUM_FAULT_CLIPPED, 0);
    }
}

static void dc_beyond_one_percent_is_told_and_kept_out_of_the_level(void **state)
{
    float *x = *state;
    for (int sign = -1; sign <= 1; sign += 2) {
        honest(x, 13, -40);
        double ac = look_through(x, N, 1, 0, RATE).ac_dbfs;
        add_dc(x, N, sign * 0.2);
        struct thrum_trust_report report = look_through(x, N, 1, 0, RATE);
        assert_int_equal(report.faults, THRUM_FAULT_DC);
        assert_close(report.dc, sign * 0.2, 1e-4);
        assert_close(report.ac_dbfs, ac, 0.05);
        assert_close(report.ac_dbfs, -43.0, 0.2); /* AES17, on half of the time: -40 - 3.01 */
    }
    honest(x, 13, -40);
    add_dc(x, N, 0.009);
    assert_int_equal(faults_of(x), 0);
}

static void not_finite_samples_are_counted_and_do_no_harm(void **state)
{
    float *x = *state;
    honest(x, 14, -20);
    double ac = look_through(x, N, 1, 0, RATE).ac_dbfs;
    x[100] = NAN;
    x[N / 2] = INFINITY;
    x[N / 2 + 1] = -INFINITY;
    struct thrum_trust_report report = look_through(x, N, 1, 0, RATE);
    assert_int_equal(report.faults, THRUM_FAULT_NOT_FINITE);
    assert_int_equal(report.bad_samples, 3);
    assert_close(report.ac_dbfs, ac, 0.01);
}

static void gated_input_is_told_from_pauses_at_the_ends(void **state)
{
    float *x = *state;
    honest(x, 15, -30);
    for (int i = 0; i < N; i++)
        if (i % (RATE / 2) >= RATE / 4) /* the gate shuts in every pause */
            x[i] = 0.0f;
    struct thrum_trust_report report = look_through(x, N, 1, -1, RATE);
    assert_int_equal(report.faults, THRUM_FAULT_GATED);
    assert_close(report.zero_share, 0.47, 0.05);
    honest(x, 15, -30);
    memset(x, 0, RATE * sizeof *x); /* starts late, stops early: no gate */
    memset(x + N - RATE, 0, RATE * sizeof *x);
    assert_int_equal(faults_of(x), 0);
    honest(x, 15, -30);
    memset(x + RATE, 0, RATE / 2 * sizeof *x); /* one hole is not a gate either */
    assert_int_equal(faults_of(x), 0);
}

/* Interleaves: right = gain * left + own noise. */
static void make_stereo(float *x, double gain, double own, uint64_t seed)
{
    struct rng rng = rng_seeded(seed);
    honest(x, seed, -30);
    for (int i = N - 1; i >= 0; i--) {
        x[2 * i] = x[i];
        x[2 * i + 1] = (float)(gain * (double)x[2 * i] + own * rng_normal(&rng));
    }
}

static void one_sided_and_cancelling_channels_are_told(void **state)
{
    float *x = *state;
    struct {
        double gain, own;
        uint32_t faults;
    } rows[] = {
        {1.0, 1e-5, 0},
        {0.1, 1e-5, 0},
        {0.001, 0.0, THRUM_FAULT_ONE_SIDED},
        {0.0, 0.0, THRUM_FAULT_ONE_SIDED},
        {0.0, 1e-5, THRUM_FAULT_ONE_SIDED},
        {-1.0, 1e-5, THRUM_FAULT_CANCELLING},
        {-0.9, 0.0, THRUM_FAULT_CANCELLING},
        {-0.3, 1e-5, 0},
        {0.0, 0.02, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        make_stereo(x, rows[i].gain, rows[i].own, 16 + i);
        assert_int_equal(look_through(x, N, 2, 0, RATE).faults, rows[i].faults);
        for (int t = 0; t < N; t++) { /* the other way round */
            float left = x[2 * t];
            x[2 * t] = x[2 * t + 1];
            x[2 * t + 1] = left;
        }
        assert_int_equal(look_through(x, N, 2, 1, RATE).faults, rows[i].faults);
    }
}

static void repeated_buffers_are_lost_samples(void **state)
{
    float *x = *state;
    const int sizes[] = {128, 256, 441, 480, 1024, 4096, 8000};
    int missed = 0;
    for (int bits = 0; bits < 2; bits++)
        for (int i = 0; i < 7; i++)
            for (int k = 0; k < 10; k++) {
                honest(x, (uint64_t)(40 + k), -30);
                if (bits)
                    round_to_16_bits(x, N);
                int at = 3 * RATE / 2 + 777 * k;
                memcpy(x + at, x + at - sizes[i], (size_t)sizes[i] * sizeof *x);
                uint32_t faults = faults_of(x);
                assert_int_equal(faults & ~(uint32_t)THRUM_FAULT_LOST, 0);
                missed += !(faults & THRUM_FAULT_LOST);
                if (sizes[i] >= 256)
                    assert_int_equal(faults, THRUM_FAULT_LOST);
            }
    /* landmarks are by chance: a stretch of 128 has none in about 1 of 50 */
    assert_between(missed, 0, 3);
}

/* Noise with stretches that come twice, 100 to 8000 frames long; fed in blocks of one size. */
static int repeats_in_blocks(int block, int every, int stretch)
{
    enum { FRAMES = 200000 };
    uint32_t *frames = malloc(FRAMES * sizeof *frames);
    struct thrum_repeats *repeats;
    struct rng rng = rng_seeded(5077);
    int found = 0;
    assert_non_null(frames);
    assert_int_equal(thrum_repeats_create(&repeats), THRUM_OK);
    for (int i = 0; i < FRAMES; i++)
        frames[i] = (uint32_t)(4294967295.0 * rng_uniform(&rng));
    for (int i = every; i + stretch < FRAMES; i += every)
        memcpy(frames + i, frames + i - stretch, (size_t)stretch * sizeof *frames);
    for (int i = 0; i < FRAMES; i += block)
        found += thrum_repeats_feed(repeats, frames + i, block < FRAMES - i ? block : FRAMES - i);
    thrum_repeats_destroy(repeats);
    free(frames);
    return found;
}

/* Frames that a driver lost and filled with zeros: 64 to 1024 of them at 48 kHz. */
static void zeros_cut_into_the_sound_are_lost_samples(void **state)
{
    float *x = *state;
    const int lengths[] = {64, 256, 1024};
    for (uint64_t t = 0; t < 6; t++) {
        int length = lengths[t % 3], at = N / 2 + 1000 * (int)t;
        honest(x, 5200 + t, -30);
        struct rng rng = rng_seeded(5200 + t);
        struct hum hum = {.hz = 50, .harmonics = 4, .dbfs = -30};
        add_hum(&rng, x, N, RATE, &hum);
        x[at - 1] = 0.02f; /* not just where the sound crosses zero */
        x[at + length] = -0.02f;
        memset(x + at, 0, (size_t)length * sizeof *x);
        round_to_16_bits(x, N);
        struct thrum_trust_report report = look_through(x, N, 1, 0, RATE);
        assert_int_equal(report.holes, 1);
        assert_int_equal(report.faults, THRUM_FAULT_LOST);
    }
}

static void zeros_that_sound_has_by_itself_are_no_lost_samples(void **state)
{
    float *x = *state;
    honest(x, 5220, -30);
    memset(x + N / 2, 0, 20 * sizeof *x); /* a click, or a relay */
    assert_int_equal(faults_of(x), 0);
    for (int i = 0; i < N; i++) /* keyed hard, pauses of 40 ms without any noise */
        x[i] = i % 3840 < 1920 ? (float)(0.1 * cos(2 * THRUM_PI * 1037.0 * i / RATE)) : 0.0f;
    assert_int_equal(faults_of(x) & THRUM_FAULT_LOST, 0);
    for (int bits = 8; bits <= 16; bits += 8) { /* hum of a step */
        for (int i = 0; i < N; i++)
            x[i] = (float)(nearbyint(1.3 * sin(2 * THRUM_PI * 50.0 * i / RATE)) / (1 << (bits - 1)));
        assert_int_equal(faults_of(x) & THRUM_FAULT_LOST, 0);
    }
    honest(x, 5221, -30);
    for (int i = 0; i < 960; i++) { /* turned down within 20 ms, and up again */
        x[N / 2 - 960 + i] *= (float)(959 - i) / 960.0f;
        x[N / 2 + 960 + i] *= (float)i / 960.0f;
        x[N / 2 + i] = 0.0f;
    }
    round_to_16_bits(x, N);
    assert_int_equal(faults_of(x), 0);
}

static void repeats_are_counted_alike_in_blocks_of_any_size(void **state)
{
    (void)state;
    const int blocks[] = {1, 3, 255, 256, 257, 960, 20000};
    for (int i = 0; i < 7; i++) {
        assert_int_equal(repeats_in_blocks(blocks[i], 20000, 1000), 9);
        assert_int_equal(repeats_in_blocks(blocks[i], 20000, 8000), 9);
        assert_int_equal(repeats_in_blocks(blocks[i], 20000, 100), 0); /* shorter than any buffer */
    }
}

static void tones_without_any_noise_are_not_repeated_buffers(void **state)
{
    float *x = *state;
    /* exactly periodic: a synthetic sender, square and sine, keyed, at a period that fits the rate, and hum */
    const double hz[] = {50, 375, 400, 800, 1000, 1037.5, 1500, 3000};
    for (int i = 0; i < 8; i++)
        for (int square = 0; square < 2; square++) {
            for (int t = 0; t < N; t++) {
                double s = sin(2 * THRUM_PI * fmod(hz[i] * t, RATE) / RATE);
                x[t] = t % (RATE / 2) < RATE / 4 ? (float)(square ? (s > 0.0 ? 0.2 : -0.2) : 0.2 * s) : 0.0f;
            }
            round_to_16_bits(x, N);
            assert_int_equal(look_through(x, N, 1, 0, RATE).repeats, 0);
        }
}

static void any_blocks_give_the_same_report(void **state)
{
    float *x = *state;
    make_stereo(x, 0.5, 1e-4, 90);
    memcpy(x + 100000, x + 100000 - 960, 960 * sizeof *x);
    x[4001] = NAN;
    const size_t blocks[] = {N, 1, 64, 441, 4096};
    struct thrum_trust *trust;
    struct thrum_trust_report first, report;
    assert_int_equal(thrum_trust_create(RATE, 2, &trust), THRUM_OK);
    for (int i = 0; i < 5; i++) {
        thrum_trust_reset(trust);
        for (size_t at = 0; at < N; at += blocks[i])
            thrum_trust_feed(trust, x + 2 * at, blocks[i] < N - at ? blocks[i] : N - at);
        thrum_trust_report(trust, 0, N, -1, i ? &report : &first);
        if (i)
            assert_memory_equal(&report, &first, sizeof report);
    }
    assert_int_equal(first.faults, THRUM_FAULT_NOT_FINITE | THRUM_FAULT_LOST);
    thrum_trust_destroy(trust);
}

static void a_touch_is_judged_by_its_own_stretch(void **state)
{
    float *x = *state;
    struct thrum_trust *trust;
    struct thrum_trust_report report;
    honest(x, 91, -20);
    for (int i = 2 * RATE; i < 5 * RATE / 2; i++)
        x[i] = (float)(sin(i * 0.05) > 0.0 ? 1.0 : -1.0);
    assert_int_equal(thrum_trust_create(RATE, 1, &trust), THRUM_OK);
    thrum_trust_feed(trust, x, N);
    thrum_trust_report(trust, 0, 17 * RATE / 10, 0, &report);
    assert_int_equal(report.faults, 0);
    assert_close((double)report.frames, 1.7 * RATE, 0.25 * RATE);
    thrum_trust_report(trust, 2 * RATE, 5 * RATE / 2, 0, &report);
    assert_int_equal(report.faults & THRUM_FAULT_CLIPPED, THRUM_FAULT_CLIPPED);
    thrum_trust_report(trust, 3 * RATE, 4 * RATE, 0, &report);
    assert_int_equal(report.faults, 0);
    thrum_trust_report(trust, 3 * RATE, 3 * RATE + 1, 0,
                       &report); /* shorter than a piece: the piece it lies in */
    assert_between((double)report.frames, 1, 0.25 * RATE);
    thrum_trust_report(trust, 100 * RATE, 101 * RATE, 0, &report); /* not heard yet */
    assert_int_equal(report.frames, 0);
    assert_int_equal(report.faults, 0);
    thrum_trust_destroy(trust);
}

static void the_last_minute_is_kept_and_no_more(void **state)
{
    float *x = *state;
    struct thrum_trust *trust;
    struct thrum_trust_report report;
    honest(x, 92, -20);
    assert_int_equal(thrum_trust_create(RATE, 1, &trust), THRUM_OK);
    for (int i = 0; i < 25; i++) { /* 100 s */
        thrum_trust_feed(trust, x, N);
        assert_int_equal(thrum_trust_frames(trust), (uint64_t)(i + 1) * N);
    }
    thrum_trust_report(trust, 0, 100 * RATE, 0, &report);
    assert_between((double)report.frames / RATE, THRUM_TRUST_KEEP_S - 0.1, THRUM_TRUST_KEEP_S + 0.5);
    thrum_trust_report(trust, 0, 30 * RATE, 0, &report);
    assert_int_equal(report.frames, 0);
    thrum_trust_destroy(trust);
}

static void other_rates_and_many_channels_work(void **state)
{
    float *x = *state;
    const double rates[] = {8000, 11025, 44100, 96000, 192000};
    struct rng rng = rng_seeded(93);
    memset(x, 0, 2 * N * sizeof *x);
    add_noise(&rng, x, 2 * N, 0.01);
    for (int i = 0; i < 5; i++)
        for (int channels = 1; channels <= 64; channels *= 4)
            assert_int_equal(look_through(x, 2 * N / (size_t)channels, channels, -1, rates[i]).faults, 0);
}

static void trust_refuses_what_it_cannot_look_at(void **state)
{
    (void)state;
    const double rates[] = {7999, 192001, (double)NAN, RATE, RATE};
    const int channels[] = {1, 1, 1, 0, 65};
    for (int i = 0; i < 5; i++) {
        struct thrum_trust *trust = (struct thrum_trust *)&trust;
        assert_int_equal(thrum_trust_create(rates[i], channels[i], &trust), THRUM_ERR_ARG);
        assert_null(trust);
    }
    thrum_trust_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(honest_inputs_have_no_fault),
        cmocka_unit_test(silence_is_one_value_and_nothing_else),
        cmocka_unit_test(cut_off_tops_are_clipped_at_the_rail_and_below),
        cmocka_unit_test(tops_cut_off_before_the_converter_are_clipped_noise_or_not),
        cmocka_unit_test(one_cut_off_top_at_the_rail_is_enough_and_any_sample_beyond_it),
        cmocka_unit_test(rounded_tops_and_square_waves_are_not_clipped),
        cmocka_unit_test(dc_beyond_one_percent_is_told_and_kept_out_of_the_level),
        cmocka_unit_test(not_finite_samples_are_counted_and_do_no_harm),
        cmocka_unit_test(gated_input_is_told_from_pauses_at_the_ends),
        cmocka_unit_test(one_sided_and_cancelling_channels_are_told),
        cmocka_unit_test(repeated_buffers_are_lost_samples),
        cmocka_unit_test(zeros_cut_into_the_sound_are_lost_samples),
        cmocka_unit_test(zeros_that_sound_has_by_itself_are_no_lost_samples),
        cmocka_unit_test(repeats_are_counted_alike_in_blocks_of_any_size),
        cmocka_unit_test(tones_without_any_noise_are_not_repeated_buffers),
        cmocka_unit_test(any_blocks_give_the_same_report),
        cmocka_unit_test(a_touch_is_judged_by_its_own_stretch),
        cmocka_unit_test(the_last_minute_is_kept_and_no_more),
        cmocka_unit_test(other_rates_and_many_channels_work),
        cmocka_unit_test(trust_refuses_what_it_cannot_look_at),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
