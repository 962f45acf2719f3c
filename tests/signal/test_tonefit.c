/* The exact model of a tone's neighbourhood: what was put in comes out, and its slopes are those of differences. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "no_memory.h"
#include "signal/tonefit.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, N = 3 * RATE, BEEPS = 5 };

/* Beeps of known amplitude and phase in a tone of 1037 + 3 Hz, and a hum line 8 Hz off. */
struct scene {
    struct thrum_baseband *baseband;
    struct thrum_tonefit *fit;
    struct cplx *z;
    struct thrum_fit_beep beeps[BEEPS];
    struct cplx amplitude[BEEPS]; /* at t = 0 of the tone's phase */
    struct thrum_hum_line line;
    struct thrum_fit_input in;
};

#define OFFSET_HZ 3.0

static void make(struct scene *s, double noise_sd, double hum)
{
    static float x[N];
    struct rng rng = rng_seeded(1);
    memset(s, 0, sizeof *s);
    assert_int_equal(thrum_baseband_create(RATE, 1037, 50, &s->baseband), THRUM_OK);
    size_t count = thrum_baseband_count(s->baseband, N);
    s->z = calloc(count, sizeof *s->z);
    assert_int_equal(thrum_tonefit_create(s->baseband, count, &s->fit), THRUM_OK);
    memset(x, 0, sizeof x);
    add_noise(&rng, x, N, noise_sd);
    for (int b = 0; b < BEEPS; b++) {
        double a = 0.01 * (1 + b), phase = 1.1 * b;
        struct thrum_fit_beep *beep = &s->beeps[b];
        *beep = (struct thrum_fit_beep){.from = 1200 + 4400 * b, .to = 3200 + 4400 * b, .weight = 0.25};
        beep->from_moves[0] = beep->to_moves[0] = 1.0;
        s->amplitude[b] = cplx_scale(cplx_turn(phase), a);
        for (int i = (int)beep->from + 1; i <= (int)beep->to; i++)
            x[i] += (float)(a * cos(2 * THRUM_PI * (1037 + OFFSET_HZ) * i / RATE + phase));
        beep->from += 0.5; /* an edge lies between the last sample without and the first with tone */
        beep->to += 0.5;
    }
    for (int i = 0; i < N; i++)
        x[i] += (float)(hum * cos(2 * THRUM_PI * 1045 * i / RATE + 0.4));
    s->line = (struct thrum_hum_line){.offset_hz = 8, .power = hum * hum, .width_hz = 0.5};
    thrum_baseband_run(s->baseband, x, N, s->z);
    s->in = (struct thrum_fit_input){.z = s->z,
                                     .first = thrum_baseband_first(s->baseband),
                                     .count = count,
                                     .beeps = s->beeps,
                                     .n_beeps = BEEPS,
                                     .n_timings = 1,
                                     .offset_hz = OFFSET_HZ,
                                     .lines = &s->line,
                                     .n_lines = hum > 0,
                                     .noise = fmax(4 * noise_sd * noise_sd / s->baseband->step, 1e-12)};
}

static void drop(struct scene *s)
{
    thrum_tonefit_destroy(s->fit);
    thrum_baseband_destroy(s->baseband);
    free(s->z);
}

static void amplitudes_come_out_as_they_went_in(void **state)
{
    (void)state;
    for (int hum = 0; hum < 2; hum++) {
        struct scene s;
        struct thrum_fit_output out;
        make(&s, 0.0, hum ? 0.1 : 0.0);
        assert_int_equal(thrum_tonefit_run(s.fit, &s.in, &out), THRUM_OK);
        for (int b = 0; b < BEEPS; b++) {
            assert_close(out.amplitude[b].re, s.amplitude[b].re, 2e-4);
            assert_close(out.amplitude[b].im, s.amplitude[b].im, 2e-4);
        }
        double left = 0;
        for (size_t m = 0; m < s.in.count; m++)
            left = fmax(left, cplx_power(out.residual[m]));
        assert_between(10 * log10(left), -400, -60); /* everything is explained */
        drop(&s);
    }
}

/* Two mains at once, each with a line near the tone. */
static void two_lines_are_told_from_each_other(void **state)
{
    (void)state;
    struct scene s;
    struct thrum_fit_output out;
    make(&s, 0.0, 0.1);
    struct thrum_hum_line lines[2] = {s.line, {.offset_hz = -9.3, .power = 0.0025, .width_hz = 0.5}};
    for (size_t m = 0; m < s.in.count; m++)
        s.z[m] = cplx_add(s.z[m], cplx_scale(cplx_turn(2 * THRUM_PI * lines[1].offset_hz *
                                                       (double)(s.in.first + m) / s.baseband->step_hz),
                                             0.05));
    s.in.lines = lines;
    s.in.n_lines = 2;
    assert_int_equal(thrum_tonefit_run(s.fit, &s.in, &out), THRUM_OK);
    for (int b = 0; b < BEEPS; b++) {
        assert_close(out.amplitude[b].re, s.amplitude[b].re, 2e-4);
        assert_close(out.amplitude[b].im, s.amplitude[b].im, 2e-4);
    }
    drop(&s);
}

/* Cramer-Rao (complex amplitude, N real samples of variance s^2): E |A - A^|^2 = 4 s^2 / N for one beep of N samples
   (computed: twice 2 s^2 / N, one each for the real and the imaginary part). The filter loses a little at the edges. */
static void covariance_is_the_cramer_rao_bound(void **state)
{
    (void)state;
    struct scene s;
    struct thrum_fit_output out;
    make(&s, 0.01, 0.0);
    assert_int_equal(thrum_tonefit_run(s.fit, &s.in, &out), THRUM_OK);
    for (int b = 0; b < BEEPS; b++) {
        double bound = 4 * 1e-4 / 2000;
        assert_between(s.in.noise * out.covariance[b * out.stride + b].re / bound, 0.98, 1.08);
        assert_close(out.covariance[b * out.stride + b].im, 0.0, 1e-12);
    }
    drop(&s);
}

static double cost(struct scene *s)
{
    struct thrum_fit_output out;
    double sum = 0;
    assert_int_equal(thrum_tonefit_run(s->fit, &s->in, &out), THRUM_OK);
    for (size_t m = 0; m < s->in.count; m++)
        sum += cplx_power(out.residual[m]);
    return sum;
}

/* d cost / d number = -2 uphill, by differences; and a Gauss-Newton step leads back to where the tone is. */
static void slopes_are_those_of_differences(void **state)
{
    (void)state;
    struct scene s;
    struct thrum_fit_slope slope = {0};
    make(&s, 1e-4, 0.0);
    s.in.offset_hz = OFFSET_HZ + 0.2;
    cost(&s);
    thrum_tonefit_slope(s.fit, &s.in, &slope);
    assert_int_equal(slope.n, 3);
    const double h = 1e-4;
    s.in.offset_hz += h;
    double up = cost(&s);
    s.in.offset_hz -= 2 * h;
    double down = cost(&s);
    assert_close((up - down) / (2 * h) / (-2 * slope.uphill[0]), 1.0, 1e-3);
    double step = slope.uphill[0] / slope.curvature[0][0];
    assert_close(step, -0.2, 0.03);
    s.in.offset_hz = OFFSET_HZ;
    for (int b = 0; b < BEEPS; b++) { /* all edges 8 samples late */
        s.beeps[b].from += 8;
        s.beeps[b].to += 8;
    }
    memset(&slope, 0, sizeof slope);
    cost(&s);
    thrum_tonefit_slope(s.fit, &s.in, &slope);
    assert_close(slope.uphill[2] / slope.curvature[2][2], -8.0, 2.0);
    double late[2];
    for (int side = 0; side < 2;
         side++) { /* the edges half a sample to either side: the taps are lines there */
        for (int b = 0; b < BEEPS; b++) {
            s.beeps[b].from += side ? -1.0 : 0.5;
            s.beeps[b].to += side ? -1.0 : 0.5;
        }
        late[side] = cost(&s);
    }
    assert_close((late[0] - late[1]) / (-2 * slope.uphill[2]), 1.0, 1e-4);
    drop(&s);
}

static void too_much_is_refused(void **state)
{
    (void)state;
    struct scene s;
    struct thrum_fit_output out;
    make(&s, 1e-4, 0.0);
    struct thrum_fit_input in = s.in;
    in.n_beeps = THRUM_TONEFIT_BEEPS + 1;
    assert_int_equal(thrum_tonefit_run(s.fit, &in, &out), THRUM_ERR_ARG);
    in = s.in;
    in.n_lines = THRUM_TONEFIT_LINES + 1;
    assert_int_equal(thrum_tonefit_run(s.fit, &in, &out), THRUM_ERR_ARG);
    in = s.in;
    in.count++;
    assert_int_equal(thrum_tonefit_run(s.fit, &in, &out), THRUM_ERR_ARG);
    in = s.in;
    in.n_beeps = 0;
    assert_int_equal(thrum_tonefit_run(s.fit, &in, &out), THRUM_OK); /* nothing to fit is fine */
    drop(&s);
}

static void creation_survives_every_allocation_that_fails(void **state)
{
    (void)state;
    struct thrum_baseband *b;
    assert_int_equal(thrum_baseband_create(RATE, 1037, 50, &b), THRUM_OK);
    size_t before = no_memory_in_use();
    for (int n = 0; n <= 12; n++) {
        struct thrum_tonefit *fit = (struct thrum_tonefit *)(uintptr_t)1;
        no_memory_after(n);
        enum thrum_status status = thrum_tonefit_create(b, 1000, &fit);
        no_memory_after(-1);
        assert_int_equal(status, n < 12 ? THRUM_ERR_MEM : THRUM_OK);
        if (n < 12)
            assert_null(fit);
        thrum_tonefit_destroy(fit);
        assert_int_equal(no_memory_in_use(), before);
    }
    thrum_baseband_destroy(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(amplitudes_come_out_as_they_went_in),
        cmocka_unit_test(two_lines_are_told_from_each_other),
        cmocka_unit_test(covariance_is_the_cramer_rao_bound),
        cmocka_unit_test(slopes_are_those_of_differences),
        cmocka_unit_test(too_much_is_refused),
        cmocka_unit_test(creation_survives_every_allocation_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
