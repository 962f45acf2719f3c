#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signal/humtake.h"
#include "signals.h"
#include "thrum/units.h"

#define RATE 8000.0

static double power(const float *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return sum / (double)n;
}

/* Hum alone, as it wobbles: how much less is left. */
static double taken_db(double wander_hz, double wobble_db, double slope)
{
    enum { N = 48000 };
    float *x = calloc(N, sizeof *x);
    struct thrum_humtake *take;
    struct rng rng = rng_seeded(5);
    struct hum hum = {.hz = 50.0 - 3.0 * slope,
                      .slope_hz_s = slope,
                      .wander_hz = wander_hz,
                      .harmonics = 60,
                      .dbfs = -20.0,
                      .wobble_db = wobble_db};
    struct thrum_hum_source source = {.hz = 50.0, .slope_hz_per_s = slope};
    assert_non_null(x);
    add_hum(&rng, x, N, RATE, &hum);
    double before = power(x, N);
    assert_int_equal(thrum_humtake_create(RATE, N, &take), THRUM_OK);
    thrum_humtake_run(take, x, x, N, &source, 1);
    double db = thrum_db_from_power(before / power(x, N));
    thrum_humtake_destroy(take);
    free(x);
    return db;
}

/* 40 dB steady and 25 dB wobbling by 1 dB are what is asked of hum left in a cleaned sound; the same is enough here. */
static void hum_is_taken_out(void **state)
{
    (void)state;
    assert_between(taken_db(0.0, 0.0, 0.0), 40.0, 200.0);
    assert_between(taken_db(0.0, 0.0, 0.02), 40.0, 200.0);
    assert_between(taken_db(0.0, 1.0, 0.0), 22.0, 60.0);
    assert_between(taken_db(0.02, 1.0, 0.0), 20.0, 60.0);
}

/* A tone 3 Hz and more beside the harmonics stays: by less than 0.1 dB. */
static void a_tone_beside_the_harmonics_stays(void **state)
{
    (void)state;
    enum { N = 48000 };
    float *x = calloc(N, sizeof *x);
    struct thrum_humtake *take;
    struct thrum_hum_source source = {.hz = 50.0};
    assert_non_null(x);
    for (size_t i = 0; i < N; i++)
        x[i] = (float)(0.1 * sin(2.0 * THRUM_PI * 1003.0 * (double)i / RATE));
    double before = power(x, N);
    assert_int_equal(thrum_humtake_create(RATE, N, &take), THRUM_OK);
    thrum_humtake_run(take, x, x, N, &source, 1);
    assert_close(thrum_db_from_power(power(x, N) / before), 0.0, 0.1);
    thrum_humtake_destroy(take);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hum_is_taken_out),
        cmocka_unit_test(a_tone_beside_the_harmonics_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
