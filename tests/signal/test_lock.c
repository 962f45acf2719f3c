/* Where in its pattern a sender is, and how much of the sound keys with it. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "no_memory.h"
#include "signal/baseband.h"
#include "signal/lock.h"
#include "signals.h"
#include "thrum/units.h"

enum { RATE = 8000, N = 3 * RATE };

struct scene {
    struct thrum_voice voice;
    struct thrum_baseband *baseband;
    struct thrum_lock *lock;
    struct cplx *z;
    size_t count;
    double noise;
};

static void begin(struct scene *s, double on_s, double off_s)
{
    memset(s, 0, sizeof *s);
    s->voice = thrum_voice_beep(1037, on_s, off_s);
    assert_int_equal(thrum_baseband_create(RATE, 1037, 62, &s->baseband), THRUM_OK);
    s->count = thrum_baseband_count(s->baseband, N);
    s->z = calloc(s->count, sizeof *s->z);
    assert_non_null(s->z);
    assert_int_equal(thrum_lock_create(&s->voice, s->baseband->step_hz, s->count, &s->lock), THRUM_OK);
}

static void hear(struct scene *s, const float *x)
{
    double power = 0;
    const struct cplx *z = s->z;
    thrum_baseband_run(s->baseband, x, N, s->z);
    for (size_t m = 0; m < s->count; m++)
        power += cplx_power(s->z[m]);
    s->noise = power / (double)s->count / s->baseband->colour; /* of everything, as if no tone were there */
    thrum_lock_use(s->lock, &z, thrum_baseband_first(s->baseband), s->count, &s->noise,
                   (double)s->count * s->baseband->colour);
}

static void end(struct scene *s)
{
    thrum_lock_destroy(s->lock);
    thrum_baseband_destroy(s->baseband);
    free(s->z);
}

static double apart(double a, double b, double cycle)
{
    double d = fmod(fabs(a - b), cycle);
    return fmin(d, cycle - d);
}

static void phase_offset_and_drift_are_found(void **state)
{
    (void)state;
    const double start[] = {0.02, 0.17, 0.31, 0.44}, offset[] = {0, -4, 7.5, 2}, drift[] = {0, 0.2, 0, -0.3};
    struct scene s;
    static float x[N];
    begin(&s, 0.25, 0.25);
    for (int k = 0; k < 4; k++) {
        struct rng rng = rng_seeded((uint64_t)k);
        struct sender sender = {.voice = s.voice,
                                .dbfs = -40,
                                .start_s = start[k],
                                .offset_hz = offset[k],
                                .drift_hz_per_s = drift[k]};
        struct thrum_lock_state found;
        memset(x, 0, sizeof x);
        add_noise(&rng, x, N, 1e-3);
        add_sender(&rng, x, N, RATE, &sender);
        hear(&s, x);
        assert_true(thrum_lock_search(s.lock, 12.0, &found) > 5.0);
        thrum_lock_refine(s.lock, &found);
        struct thrum_timing timing = thrum_lock_timing(s.lock, &found);
        assert_between(apart(timing.start_s, start[k], 0.5), 0.0, 0.006);
        assert_close(found.offset_hz, offset[k] + drift[k] * 1.5, 0.4); /* at the middle of 3 s */
        struct thrum_lock_energy on = thrum_lock_measure(s.lock, &found),
                                 gaps = thrum_lock_measure_gaps(s.lock, &found);
        assert_close(10 * log10(on.power), -40.0, 0.7);
        assert_between(gaps.power / on.power, -0.1, 0.1);
        assert_between(on.beeps, 6, 7);
    }
    end(&s);
}

/* The likelihood ratio has the mean 1 over noise alone (by definition), so by Markov P(ln ratio >= a) <= exp(-a): at
   ln 100 at most 1 in 100; three binomial sd of 300 runs on top make 9. */
static void evidence_of_noise_alone_obeys_markov(void **state)
{
    (void)state;
    struct scene s;
    static float x[N];
    struct rng rng = rng_seeded(9);
    int over = 0;
    begin(&s, 0.25, 0.25);
    for (int i = 0; i < 300; i++) {
        struct thrum_lock_state found;
        memset(x, 0, sizeof x);
        add_noise(&rng, x, N, 0.01);
        hear(&s, x);
        over += thrum_lock_search(s.lock, 12.0, &found) >= log(100.0);
    }
    assert_between(over, 0, 9);
    end(&s);
}

/* Six beeps alike say more than one that holds the energy of all six: a sender's beeps are as strong as one another. */
static void beeps_alike_are_more_evidence_than_one_as_loud_as_all(void **state)
{
    (void)state;
    struct scene s;
    static float x[N];
    begin(&s, 0.25, 0.25);
    for (int i = 0; i < 20; i++) {
        struct rng rng = rng_seeded((uint64_t)(5000 + i)), again = rng;
        struct sender six = {.voice = s.voice, .dbfs = -58.0, .start_s = 0.25},
                      one = {
                          .voice = thrum_voice_beep(1037, 0.25, 4.0), .dbfs = -58.0 + 7.7815, .start_s = 3.0};
        struct thrum_lock_state found;
        double alike, single;
        memset(x, 0, sizeof x);
        add_noise(&rng, x, N, 0.01);
        add_sender(&rng, x, N, RATE, &six);
        hear(&s, x);
        alike = thrum_lock_search(s.lock, 12.0, &found);
        memset(x, 0, sizeof x);
        add_noise(&again, x, N, 0.01);
        add_sender(&again, x, N, RATE, &one);
        hear(&s, x);
        single = thrum_lock_search(s.lock, 12.0, &found);
        assert_true(alike > single);
    }
    end(&s);
}

static void a_steady_tone_shows_in_the_gaps(void **state)
{
    (void)state;
    struct scene s;
    static float x[N];
    struct rng rng = rng_seeded(2);
    struct thrum_lock_state found;
    begin(&s, 0.25, 0.25);
    memset(x, 0, sizeof x);
    add_noise(&rng, x, N, 1e-4);
    for (int i = 0; i < N; i++)
        x[i] += (float)(0.01 * cos(2 * THRUM_PI * 1037 * i / RATE));
    hear(&s, x);
    thrum_lock_search(s.lock, 12.0, &found);
    struct thrum_lock_energy gaps = thrum_lock_measure_gaps(s.lock, &found);
    assert_close(10 * log10(gaps.power), -40.0, 1.0);
    end(&s);
}

static void most_senders_are_where_they_were_learned(void **state)
{
    (void)state;
    assert_close(thrum_lock_prior(0.0), 0.0, 1e-12);
    for (double hz = 0.1; hz < 12; hz += 0.1) {
        assert_close(thrum_lock_prior(hz), thrum_lock_prior(-hz), 1e-12);
        assert_true(thrum_lock_prior(hz) < thrum_lock_prior(hz - 0.1));
    }
}

static void creation_survives_every_allocation_that_fails(void **state)
{
    (void)state;
    struct scene s;
    begin(&s, 0.25, 0.25);
    size_t before = no_memory_in_use();
    for (int n = 0; n < 4; n++) {
        struct thrum_lock *lock = (struct thrum_lock *)(uintptr_t)1;
        no_memory_after(n);
        enum thrum_status status = thrum_lock_create(&s.voice, s.baseband->step_hz, 1000, &lock);
        no_memory_after(-1);
        assert_int_equal(status, n < 3 ? THRUM_ERR_MEM : THRUM_OK);
        if (n < 3)
            assert_null(lock);
        thrum_lock_destroy(lock);
        assert_int_equal(no_memory_in_use(), before);
    }
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(phase_offset_and_drift_are_found),
        cmocka_unit_test(evidence_of_noise_alone_obeys_markov),
        cmocka_unit_test(beeps_alike_are_more_evidence_than_one_as_loud_as_all),
        cmocka_unit_test(a_steady_tone_shows_in_the_gaps),
        cmocka_unit_test(most_senders_are_where_they_were_learned),
        cmocka_unit_test(creation_survives_every_allocation_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
