/* What the practice bundle sounds like: sender, hum, noise and hand are what the configuration says. */
#include "heard.h"

static void strength_as_played_is_the_strength_announced(void **state)
{
    (void)state;
    const double rates[] = {8000.0, 44100.0, 48000.0, 192000.0};
    for (int r = 0; r < 4; r++)
        for (int square = 0; square < 2; square++) {
            struct thrum_practice_config config = clean(6 + (uint64_t)r);
            config.rate_hz = rates[r];
            config.square = square;
            config.placement_db = 1.5;
            config.ending = THRUM_ENDING_FREE;
            struct thrum_practice *practice = made(&config);
            for (int wire = 0; wire < 4; wire++) {
                thrum_practice_place(practice, wire);
                pass_over(practice, (size_t)(0.1 * config.rate_hz));
                size_t n = (size_t)(2.5 * config.rate_hz);
                float *x = heard(practice, n);
                assert_close(measured_dbfs(x, n, 1037.0, config.rate_hz),
                             thrum_practice_placed_strength(practice), 0.05);
                free(x);
            }
            thrum_practice_destroy(practice);
        }
}

static void strength_of_alternating_tones_is_their_rms(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(7);
    config.voice = alternating(700.0, 2800.0);
    config.ending = THRUM_ENDING_LOADED; /* so that the tones differ */
    struct thrum_practice *practice = made(&config);
    assert_close(thrum_practice_strength(practice, thrum_practice_driven(practice)), config.tone_dbfs, 1e-9);
    for (int wire = 0; wire < 24; wire += 5) {
        thrum_practice_place(practice, wire);
        pass_over(practice, 4800);
        /* whole cycles of 0.5 s: their mean power is the strength, there is no pause */
        assert_close(next_level_db(practice, 96000), thrum_practice_placed_strength(practice), 0.05);
        assert_close(thrum_practice_placed_strength(practice), thrum_practice_strength(practice, wire), 1e-9);
    }
    thrum_practice_destroy(practice);
}

static void beeps_last_as_long_as_the_voice_says(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(8);
    config.voice = thrum_voice_beep(425.0, 0.1234, 0.3777);
    struct thrum_practice *practice = made(&config);
    size_t n = 480000, first[64], end[64];
    thrum_practice_place(practice, thrum_practice_driven(practice));
    float *x = heard(practice, n);
    int count = beeps(x, n, 48000.0, first, end, 64);
    assert_between(count, 19, 21);
    for (int k = 2; k + 1 < count; k++) {
        assert_close(end[k] - first[k], 0.1234 * 48000.0, 2.0); /* a sample at each end may be exactly 0 */
        assert_close(first[k] - first[1], (k - 1) * 0.5011 * 48000.0, 2.0);
    }
    free(x);
    thrum_practice_destroy(practice);
}

static void the_sender_goes_on_while_the_probe_is_elsewhere(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(9);
    struct thrum_practice *wanders = made(&config), *stays = made(&config);
    int driven = thrum_practice_driven(stays);
    thrum_practice_place(stays, driven);
    for (int i = 0; i < 5; i++) {
        thrum_practice_place(wanders, i % 2 ? THRUM_PROBE_IN_AIR : i);
        pass_over(wanders, 12347);
    }
    thrum_practice_place(wanders, driven);
    pass_over(wanders, 1440);
    pass_over(stays, 5 * 12347 + 1440);
    float *a = heard(wanders, 48000), *b = heard(stays, 48000);
    assert_memory_equal(a, b, 48000 * sizeof *a);
    free(a);
    free(b);
    thrum_practice_destroy(wanders);
    thrum_practice_destroy(stays);
}

static void seeds_begin_at_all_points_of_the_cadence(void **state)
{
    (void)state;
    int on = 0;
    for (uint64_t seed = 0; seed < 200; seed++) {
        struct thrum_practice_config config = clean(seed);
        config.rate_hz = 8000.0;
        struct thrum_practice *practice = made(&config);
        thrum_practice_place(practice, thrum_practice_driven(practice));
        float *x = heard(practice, 16);
        on += fabsf(x[15]) > NOTHING;
        free(x);
        thrum_practice_destroy(practice);
    }
    assert_close(on, 100, 4.0 * 7.07); /* sqrt(200/4): four standard errors */
}

static void hum_is_as_strong_as_asked_for(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(10);
    config.tone_dbfs = -90.0; /* out of the way */
    config.hum_over_tone_db = 65.0;
    config.hum_wobble_db = 0.0;
    config.mains_wander_hz = 0.0;
    struct thrum_practice *practice = made(&config);
    for (int wire = 0; wire < config.n_wires; wire++) {
        thrum_practice_place(practice, wire);
        pass_over(practice, 1440);
        double db = next_level_db(practice, 48000); /* whole periods of 50 Hz */
        assert_close(db, -25.0, wire == thrum_practice_driven(practice) ? 0.01 : 1.01);
    }
    for (int i = 0; i < 20; i++) {
        thrum_practice_place(practice, THRUM_PROBE_IN_AIR);
        pass_over(practice, 1440);
        assert_between(next_level_db(practice, 48000), -25.0 - 18.01, -25.0 - 13.99);
    }
    thrum_practice_destroy(practice);
}

static void hum_harmonics_wobble_by_what_is_asked_for(void **state)
{
    (void)state;
    enum { WINDOWS = 3000, WINDOW = 800 };
    struct thrum_practice_config config = clean(11);
    config.rate_hz = 8000.0;
    config.no_sender = true;
    config.hum_over_tone_db = 0.0;
    config.hum_wobble_db = 1.0;
    config.mains_wander_hz = 0.0;
    config.harmonics = 3;
    struct thrum_practice *practice = made(&config);
    thrum_practice_place(practice, 0);
    pass_over(practice, 800);
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < WINDOWS; i++) {
        float *x = heard(practice, WINDOW);
        double db = 10.0 * log10(fit(x, WINDOW, 150.0, 8000.0));
        sum += db;
        squares += db * db;
        free(x);
    }
    double mean = sum / WINDOWS;
    /* 300 s of 1 s correlation: the sd is known to about 1/sqrt(2 * 300) = 4 % */
    assert_close(sqrt(squares / WINDOWS - mean * mean), 1.0, 0.15);
    thrum_practice_destroy(practice);
}

static void mains_frequency_wanders_about_what_is_asked_for(void **state)
{
    (void)state;
    enum { SECONDS = 2000 };
    struct thrum_practice_config config = clean(12);
    config.rate_hz = 8000.0;
    config.no_sender = true;
    config.hum_over_tone_db = 0.0;
    config.hum_wobble_db = 0.0;
    config.mains_hz = 59.9;
    config.mains_wander_hz = 0.05;
    config.harmonics = 1;
    struct thrum_practice *practice = made(&config);
    double last = 0.0, sum = 0.0, squares = 0.0;
    for (int t = 0; t < SECONDS; t++) {
        float *x = heard(practice, 8000);
        double re = 0.0, im = 0.0;
        for (int i = 0; i < 8000; i++) {
            double a = 2.0 * THRUM_PI * 59.9 * (i + 8000.0 * t) / 8000.0;
            re += (double)x[i] * cos(a);
            im -= (double)x[i] * sin(a);
        }
        double turns = atan2(im, re) / (2.0 * THRUM_PI), hz = turns - last - floor(turns - last + 0.5);
        last = turns;
        sum += t > 0 ? hz : 0.0;
        squares += t > 0 ? hz * hz : 0.0;
        free(x);
    }
    double mean = sum / (SECONDS - 1), sd = sqrt(squares / (SECONDS - 1) - mean * mean);
    /* 2000 s of 5 s correlation: mean to 0.05 sqrt(2 * 5/2000), sd to about 4 %; seconds average a bit off */
    assert_close(mean, 0.0, 0.012);
    assert_close(sd, 0.05, 0.01);
    thrum_practice_destroy(practice);
}

static void lead_has_a_strong_tone_and_hum_equal_to_it(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(13);
    config.tone_dbfs = -42.0;
    config.hum_wobble_db = 0.0;
    config.hum_over_tone_db = 20.0;
    struct thrum_practice_config quiet = config;
    quiet.hum_over_tone_db = -200.0;
    struct thrum_practice *both = made(&config), *tone = made(&quiet);
    thrum_practice_place(both, THRUM_PROBE_AT_LEAD);
    thrum_practice_place(tone, THRUM_PROBE_AT_LEAD);
    pass_over(both, 4800);
    pass_over(tone, 4800);
    float *x = heard(both, 96000), *y = heard(tone, 96000);
    double strength = thrum_practice_placed_strength(tone);
    assert_true(strength >= config.tone_dbfs + 10.0);
    assert_close(measured_dbfs(y, 96000, 1037.0, 48000.0), strength, 0.05);
    for (int i = 0; i < 96000; i++) {
        assert_true(fabsf(x[i]) < 1.0f);
        x[i] -= y[i]; /* same seed: what is left is the hum */
    }
    assert_close(level_db(x, 96000), strength, 0.05);
    free(x);
    free(y);
    thrum_practice_destroy(both);
    thrum_practice_destroy(tone);
}

static void noise_keeps_its_density_at_every_rate(void **state)
{
    (void)state;
    const double rates[] = {8000.0, 48000.0, 192000.0};
    for (int r = 0; r < 3; r++) {
        struct thrum_practice_config config = clean(14);
        config.no_sender = true;
        config.rate_hz = rates[r];
        config.noise_dbfs = -30.0;
        struct thrum_practice *practice = made(&config);
        /* computed: -30 dBFS in 24 kHz; four standard errors of 400,000 samples are 0.04 dB */
        assert_close(next_level_db(practice, 400000), -30.0 + 10.0 * log10(rates[r] / 48000.0), 0.04);
        thrum_practice_destroy(practice);
    }
}

static void a_square_wave_has_odd_partials_and_no_aliases(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(15);
    config.square = true;
    config.voice = steady(1000.0);
    struct thrum_practice *practice = made(&config);
    thrum_practice_place(practice, thrum_practice_driven(practice));
    pass_over(practice, 4800);
    float *x = heard(practice, 48000);
    for (int h = 1; h <= 23; h++) {
        double db = 10.0 * log10(fit(x, 48000, 1000.0 * h, 48000.0) + 1e-30);
        if (h % 2 == 1 && h < 22)
            assert_close(db, config.tone_dbfs - 20.0 * log10(h), 0.001); /* computed: Fourier series, 1/h */
        else
            assert_true(db < -120.0);
    }
    free(x);
    thrum_practice_destroy(practice);

    config.rate_hz = 8000.0;
    config.voice = steady(3000.0); /* its third partial would fold to 1000 Hz */
    practice = made(&config);
    thrum_practice_place(practice, thrum_practice_driven(practice));
    pass_over(practice, 800);
    x = heard(practice, 8000);
    assert_close(10.0 * log10(fit(x, 8000, 3000.0, 8000.0)), config.tone_dbfs, 0.001);
    assert_true(10.0 * log10(fit(x, 8000, 1000.0, 8000.0) + 1e-30) < -120.0);
    free(x);
    thrum_practice_destroy(practice);
}

static void harmonics_end_below_half_the_rate(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(16);
    config.no_sender = true;
    config.rate_hz = 8000.0;
    config.mains_hz = 66.0;
    config.harmonics = 66; /* up to 4356 Hz, of which 3600 may be there */
    config.hum_over_tone_db = 0.0;
    config.hum_wobble_db = 0.0;
    config.mains_wander_hz = 0.0;
    struct thrum_practice *practice = made(&config);
    thrum_practice_place(practice, 0);
    pass_over(practice, 800);
    float *x = heard(practice, 8000);
    for (int h = 1; h <= 66; h++) {
        double hz = 66.0 * h < 4000.0 ? 66.0 * h : 8000.0 - 66.0 * h;
        double db = 10.0 * log10(fit(x, 8000, hz, 8000.0) + 1e-30);
        if (66.0 * h < 3600.0)
            assert_true(db > -60.0);
        else
            assert_true(db < -120.0);
    }
    free(x);
    thrum_practice_destroy(practice);
}

static void the_hand_wobbles_slowly_by_what_is_asked_for(void **state)
{
    (void)state;
    enum { WINDOWS = 20000, WINDOW = 400, LAG = 14 }; /* 50 ms; 0.7 s */
    static double db[WINDOWS];
    struct thrum_practice_config config = clean(17);
    config.rate_hz = 8000.0;
    config.voice = steady(1000.0);
    config.hand_wobble_db = 1.5;
    struct thrum_practice *practice = made(&config);
    thrum_practice_place(practice, thrum_practice_driven(practice));
    pass_over(practice, 800);
    double sum = 0.0, squares = 0.0, products = 0.0;
    for (int i = 0; i < WINDOWS; i++) {
        db[i] = next_level_db(practice, WINDOW) - config.tone_dbfs;
        sum += db[i];
        squares += db[i] * db[i];
        products += i >= LAG ? db[i] * db[i - LAG] : 0.0;
    }
    /* 1000 s: sd to 3 %, mean to 1.5 sqrt(2 * 0.7/1000) = 0.06, correlation to about 0.04 */
    assert_close(sum / WINDOWS, 0.0, 0.18);
    assert_close(sqrt(squares / WINDOWS), 1.5, 0.15);
    assert_close(products / squares, exp(-1.0), 0.12);
    thrum_practice_destroy(practice);
}

static void every_placement_is_drawn_anew(void **state)
{
    (void)state;
    enum { TOUCHES = 4000 };
    struct thrum_practice_config config = thrum_practice_config_default(18);
    struct thrum_practice *practice = made(&config);
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < TOUCHES; i++) {
        thrum_practice_place(practice, 5);
        double off = thrum_practice_placed_strength(practice) - thrum_practice_strength(practice, 5);
        sum += off;
        squares += off * off;
    }
    assert_close(sum / TOUCHES, 0.0, 4.0 * 0.0158);           /* 1/sqrt(4000) */
    assert_close(sqrt(squares / TOUCHES), 1.0, 4.0 * 0.0112); /* 1/sqrt(2 * 4000) */
    thrum_practice_destroy(practice);
}

static void the_sender_sags_and_drifts_as_asked_for(void **state)
{
    (void)state;
    struct thrum_practice_config config = clean(19);
    config.voice = steady(1000.0);
    config.sag_db_per_min = 6.0;
    config.drift_hz_per_s = 0.25;
    struct thrum_practice *practice = made(&config);
    thrum_practice_place(practice, thrum_practice_driven(practice));
    pass_over(practice, 30 * 48000);
    assert_close(thrum_practice_placed_strength(practice), config.tone_dbfs - 3.0, 0.001);
    float *x = heard(practice, 4800);
    assert_close(level_db(x, 4800), config.tone_dbfs - 3.0, 0.02);
    double most = 0.0, at = 0.0;
    for (double hz = 1000.0; hz < 1015.0; hz += 0.05) {
        double power = fit(x, 4800, hz, 48000.0);
        if (power > most) {
            most = power;
            at = hz;
        }
    }
    assert_close(at, 1000.0 + 0.25 * 30.05, 0.05);
    free(x);
    thrum_practice_destroy(practice);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strength_as_played_is_the_strength_announced),
        cmocka_unit_test(strength_of_alternating_tones_is_their_rms),
        cmocka_unit_test(beeps_last_as_long_as_the_voice_says),
        cmocka_unit_test(the_sender_goes_on_while_the_probe_is_elsewhere),
        cmocka_unit_test(seeds_begin_at_all_points_of_the_cadence),
        cmocka_unit_test(hum_is_as_strong_as_asked_for),
        cmocka_unit_test(hum_harmonics_wobble_by_what_is_asked_for),
        cmocka_unit_test(mains_frequency_wanders_about_what_is_asked_for),
        cmocka_unit_test(lead_has_a_strong_tone_and_hum_equal_to_it),
        cmocka_unit_test(noise_keeps_its_density_at_every_rate),
        cmocka_unit_test(a_square_wave_has_odd_partials_and_no_aliases),
        cmocka_unit_test(harmonics_end_below_half_the_rate),
        cmocka_unit_test(the_hand_wobbles_slowly_by_what_is_asked_for),
        cmocka_unit_test(every_placement_is_drawn_anew),
        cmocka_unit_test(the_sender_sags_and_drifts_as_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
