#include "judged.h"

#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "signals.h"

struct thrum_touchfit *judged_create(const struct thrum_voice *voice)
{
    struct thrum_touchfit *fit;
    assert_int_equal(thrum_touchfit_create(JUDGED_RATE, voice, &fit), THRUM_OK);
    return fit;
}

struct judged judge(struct thrum_touchfit *fit, const float *x, size_t n, const struct thrum_hum_source *hum)
{
    struct thrum_touchfit_job job = {.x = x, .n = n, .hum = hum, .n_hum = hum != NULL};
    struct judged judged;
    thrum_strength_judge(thrum_touchfit_run(fit, &job), &judged.strength, &judged.notes);
    return judged;
}

struct judged_runs judged_runs(double eta_n_db, int n_runs, uint64_t seed)
{
    struct thrum_voice voice = thrum_voice_beep(1037, 0.25, 0.25);
    struct thrum_touchfit *fit = judged_create(&voice);
    struct judged_runs runs = {0};
    double sum = 0, squares = 0, said = 0;
    float *x = calloc(3 * JUDGED_RATE, sizeof *x);
    struct rng rng = rng_seeded(seed);
    for (int i = 0; i < n_runs; i++) {
        /* eta N_on = A^2 / (2 s^2) * 12000, s = 0.01 */
        double a2 = 2 * 1e-4 * pow(10, eta_n_db / 10) / 12000;
        struct sender sender = {.voice = voice, .dbfs = 10 * log10(a2), .start_s = rng_uniform(&rng) * 0.5};
        memset(x, 0, 3 * JUDGED_RATE * sizeof *x);
        add_noise(&rng, x, 3 * JUDGED_RATE, 0.01);
        double truth = add_sender(&rng, x, 3 * JUDGED_RATE, JUDGED_RATE, &sender);
        struct judged judged = judge(fit, x, 3 * JUDGED_RATE, NULL);
        if (!judged.strength.heard)
            continue;
        double e = judged.strength.dbfs - truth;
        runs.heard++;
        runs.inside += truth >= judged.strength.low_db && truth <= judged.strength.high_db;
        sum += e;
        squares += e * e;
        said += judged.strength.sd_db;
    }
    runs.bias = sum / runs.heard;
    runs.sd = sqrt(squares / runs.heard - runs.bias * runs.bias);
    runs.sd_said = said / runs.heard;
    free(x);
    thrum_touchfit_destroy(fit);
    return runs;
}

struct thrum_strength judged_by_hand(double evidence, double relative_variance)
{
    static struct thrum_touchfit_result fit;
    struct thrum_strength strength;
    memset(&fit, 0, sizeof fit);
    fit.voice = thrum_voice_beep(1037, 0.25, 0.25);
    fit.power = fit.contrast = 0.01;
    fit.variance = relative_variance * fit.power * fit.power;
    fit.evidence = evidence;
    fit.n_beeps = 6;
    for (int i = 0; i < 6; i++) {
        fit.beep_power[i] = fit.power;
        fit.beep_variance[i] = 0.01 * fit.power;
        fit.window[fit.n_windows++] = (struct thrum_keying_window){1.01 * fit.power, 0.01 * fit.power, true};
        fit.window[fit.n_windows++] = (struct thrum_keying_window){0.01 * fit.power, 0.01 * fit.power, false};
    }
    thrum_strength_judge(&fit, &strength, NULL);
    return strength;
}
