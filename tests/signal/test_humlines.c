/* What taking hum lines out takes of the noise, and that the noise of a touch comes out right without it. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "signal/humlines.h"
#include "signal/touchfit.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, N = 3 * RATE, DRAWS = 60 };

#define SD    0.01
#define PASS  42.0
#define TONE  1037.0
#define WIDTH 0.5

struct scene {
    struct thrum_baseband *baseband;
    struct thrum_tonefit *fit;
    size_t first, count;
    struct cplx *z;
    double unit; /* variance of one independent value of z by noise */
    struct rng rng;
};

static void make(struct scene *s)
{
    memset(s, 0, sizeof *s);
    s->rng = rng_seeded(5);
    assert_int_equal(thrum_baseband_create(RATE, TONE, PASS, &s->baseband), THRUM_OK);
    s->first = thrum_baseband_first(s->baseband);
    s->count = thrum_baseband_count(s->baseband, N);
    s->z = calloc(s->count, sizeof *s->z);
    s->unit = 4 * SD * SD / s->baseband->step;
    assert_int_equal(thrum_tonefit_create(s->baseband, s->count, &s->fit), THRUM_OK);
}

static void drop(struct scene *s)
{
    thrum_tonefit_destroy(s->fit);
    thrum_baseband_destroy(s->baseband);
    free(s->z);
}

static void hear_noise(struct scene *s)
{
    static float x[N];
    memset(x, 0, sizeof x);
    add_noise(&s->rng, x, N, SD);
    thrum_baseband_run(s->baseband, x, N, s->z);
}

static double energy(const struct scene *s, const struct cplx *z)
{
    return cplx_mean_power(z, s->count) * (double)s->count / s->unit;
}

/* An independent value of noise has the energy 1 on average, with a variance of 1. Lines on the tone, where the filter lets
   through half, where what is folded in counts, and two side by side. */
static void lines_taken_out_take_as_much_noise_as_is_said(void **state)
{
    (void)state;
    static const struct {
        double hz[2];
        int n;
    } cases[] = {{{0.0}, 1}, {{66.0}, 1}, {{-86.0}, 1}, {{13.0, -37.0}, 2}, {{5.0, 7.0}, 2}};
    struct scene s;
    make(&s);
    for (int c = 0; c < 5; c++) {
        struct thrum_hum_line line[2];
        double taken = 0;
        for (int i = 0; i < cases[c].n; i++)
            line[i] = (struct thrum_hum_line){.offset_hz = cases[c].hz[i], .power = 1.0, .width_hz = WIDTH};
        for (int d = 0; d < DRAWS; d++) {
            hear_noise(&s);
            taken += energy(&s, s.z) / DRAWS;
            for (int i = 0; i < cases[c].n; i++)
                thrum_humlines_take_out(s.fit, s.baseband, &line[i], s.z, s.first, s.count, s.z);
            taken -= energy(&s, s.z) / DRAWS;
        }
        double said = thrum_humlines_taken(s.baseband, line, cases[c].n, s.count);
        assert_between(said, 5, 30);
        /* five standard errors, and what is only estimated where two lines share */
        assert_close(taken, said, 5 * sqrt(said / DRAWS) + (c == 4 ? 2.0 : 0.0));
    }
    drop(&s);
}

/* Beside beeps, and held by its prior: of noise, a hum of that power and noise together take said 'taken' times the noise. */
static void a_line_that_its_prior_holds_takes_less(void **state)
{
    (void)state;
    struct scene s;
    double before = 1e9;
    make(&s);
    for (int k = 0; k < 3; k++) {
        double power = s.unit * pow(10.0, -k - 1), trace = 0;
        struct thrum_hum_line line = {.offset_hz = 4.0, .power = power, .width_hz = WIDTH};
        struct thrum_fit_input in = {
            .z = s.z, .first = s.first, .count = s.count, .lines = &line, .n_lines = 1, .noise = s.unit};
        struct thrum_fit_output out;
        double taken = 0;
        for (int d = 0; d < DRAWS; d++) {
            hear_noise(&s);
            assert_int_equal(thrum_tonefit_run(s.fit, &in, &out), THRUM_OK);
            trace = thrum_tonefit_taken(s.fit, &in);
            for (size_t m = 0; m < s.count; m++) { /* trace of H is E of z^H H z over the noise */
                struct cplx hum = cplx_sub(s.z[m], out.no_hum[m]);
                taken += cplx_mul_conj(s.z[m], hum).re / s.unit / DRAWS;
            }
        }
        assert_between(trace, 0.0, before);
        assert_between(trace, 0.0, thrum_tonefit_line_unknowns(s.baseband, s.count));
        assert_close(taken, trace, 5 * sqrt(trace / DRAWS));
        before = trace;
    }
    drop(&s);
}

/* Density of the noise that touches without a tone are said to have, hum left out or put in. */
static double density(struct thrum_touchfit *fit, double hum_dbfs, int touches)
{
    static float x[N];
    struct hum hum = {.hz = 50.0, .harmonics = 60, .dbfs = hum_dbfs};
    struct thrum_hum_source source = {.hz = 50.0};
    bool with = hum_dbfs > THRUM_FLOOR_DBFS;
    double sum = 0;
    for (int t = 0; t < touches; t++) {
        struct thrum_touchfit_job job = {.x = x, .n = N, .hum = &source, .n_hum = with};
        struct rng rng = rng_seeded(100 + (uint64_t)t);
        memset(x, 0, sizeof x);
        add_noise(&rng, x, N, SD);
        if (with)
            add_hum(&rng, x, N, RATE, &hum);
        sum += thrum_touchfit_run(fit, &job)->noise_density;
    }
    return sum / touches;
}

/* The same noise with and without hum of which four lines reach into the band, 40 of some 320 values: the search for beeps
   takes a few hundredths in both. */
static void hum_does_not_make_the_noise_look_less(void **state)
{
    (void)state;
    static const double off_hz[] = {13.0, 3.5, 0.0};
    int touches = thrum_trials(20);
    for (int c = 0; c < 3; c++) {
        struct thrum_voice voice = thrum_voice_beep(900.0 + off_hz[c], 0.25, 0.25);
        struct thrum_touchfit *fit;
        assert_int_equal(thrum_touchfit_create(RATE, &voice, &fit), THRUM_OK);
        double without = density(fit, THRUM_FLOOR_DBFS, touches);
        assert_close(without / (SD * SD / (0.5 * RATE)), 1.0, 0.06);
        /* what the lines took is what differs: 40 values of 360 */
        assert_close(density(fit, -25.0, touches) / without, 1.0, 4 * sqrt(40.0 / touches) / 360 + 0.01);
        thrum_touchfit_destroy(fit);
    }
}

/* Wobbling hum 30 dB over the weakest tone that can be heard, a line of it where the tone is sought: beeps put into the fit take
   over what the line could explain as well. White noise has an evidence beyond 3 in 2 of 1000 touches. */
static void beeps_that_a_line_explains_as_well_are_no_evidence(void **state)
{
    (void)state;
    static float x[N];
    struct hum hum = {.hz = 60.0, .wander_hz = 0.02, .harmonics = 60, .dbfs = -32, .wobble_db = 1.0};
    struct thrum_hum_source source = {.hz = 60.0};
    struct thrum_voice voice = thrum_voice_beep(900.0, 0.25, 0.25);
    struct thrum_touchfit *fit;
    int touches = thrum_trials(50), seen = 0;
    assert_int_equal(thrum_touchfit_create(RATE, &voice, &fit), THRUM_OK);
    for (int t = 0; t < touches; t++) {
        struct thrum_touchfit_job job = {.x = x, .n = N, .hum = &source, .n_hum = 1};
        struct rng rng = rng_seeded(200 + (uint64_t)t);
        memset(x, 0, sizeof x);
        add_noise(&rng, x, N, SD);
        add_hum(&rng, x, N, RATE, &hum);
        seen += thrum_touchfit_run(fit, &job)->evidence > 3.0;
    }
    assert_between(seen, 0, 1);
    thrum_touchfit_destroy(fit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_taken_out_take_as_much_noise_as_is_said),
        cmocka_unit_test(a_line_that_its_prior_holds_takes_less),
        cmocka_unit_test(hum_does_not_make_the_noise_look_less),
        cmocka_unit_test(beeps_that_a_line_explains_as_well_are_no_evidence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
