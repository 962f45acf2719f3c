#include "check.h"

#include <string.h>

#include "cadences.h"
#include "signal/pattern.h"
#include "signals.h"

#define MOST 256

static const struct thrum_pattern_limits limits = {.tolerance_s = 0.012, .tolerance = 0.06};

/* The runs of a voice between two times, each edge off by a normal error. */
static int runs_of(const struct thrum_voice *voice, double start_s, double length_s, double error_s,
                   struct rng *rng, struct thrum_run *runs)
{
    double t = -start_s;
    int n = 0;
    for (int i = 0; t < length_s && n < MOST; i = (i + 1) % voice->n_steps) {
        double end = t + voice->step[i].s;
        if (end > 0.0) {
            runs[n] = (struct thrum_run){.tone = voice->step[i].tone, .from_s = n ? runs[n - 1].to_s : 0.0};
            runs[n++].to_s = end < length_s ? end + error_s * rng_normal(rng) : length_s;
        }
        t = end;
    }
    return n;
}

/* As published, wherever in the pattern a 6 s take begins, edges off by 2 ms. */
static void every_published_pattern_is_found_from_runs(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(1);
    for (int c = 0; c < n_cadences; c++) {
        struct thrum_voice truth = cadence_voice(&cadences[c]);
        for (int turn = 0; turn < 10; turn++) {
            struct thrum_run runs[MOST];
            struct thrum_pattern pattern;
            struct thrum_voice found = truth;
            double cycle = thrum_voice_cycle_s(&truth), hz, s;
            int n = runs_of(&truth, cycle * (turn + 0.37) / 10.0, 6.0, 0.002, &rng, runs);
            assert_int_equal(thrum_pattern_find(runs, n, &limits, &pattern), THRUM_PATTERN_FOUND);
            found.n_steps = pattern.n_steps;
            memcpy(found.step, pattern.step, sizeof found.step);
            thrum_pattern_reduce(&found, 0.012);
            if (!cadence_matches(&found, &truth, &hz, &s)) {
                print_error("%s, turn %d: %d steps\n", cadences[c].name, turn, pattern.n_steps);
                fail();
            }
            assert_between(s, 0.0, 0.008); /* 2 ms errors, two to a step */
            assert_close(pattern.cycle_s * found.n_steps / pattern.n_steps, cycle, 0.008);
        }
    }
}

static void runs_without_order_have_no_pattern(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(2);
    int found = 0;
    for (int trial = 0; trial < 200; trial++) {
        struct thrum_run runs[MOST];
        struct thrum_pattern pattern;
        int n = 0;
        for (double t = 0.0; t < 6.0; n++) {
            double s = rng_between(&rng, 0.05, 0.6);
            runs[n] = (struct thrum_run){n % 2 ? THRUM_SILENCE : 0, t, t + s};
            t += s;
        }
        found += thrum_pattern_find(runs, n, &limits, &pattern) == THRUM_PATTERN_FOUND;
    }
    assert_int_equal(found, 0);
}

/* An edge beside an end of the sound is blurred: a tone cut there may seem a third longer than whole. Much longer, it is another. */
static void an_end_may_seem_longer_than_whole(void **state)
{
    (void)state;
    static const struct thrum_pattern_limits strict = {.tolerance_s = 0.006, .tolerance = 0.06};
    static const struct {
        int run;
        double longer_s;
        enum thrum_pattern_found found;
    } cases[] = {{99, 0.0075, THRUM_PATTERN_FOUND},
                 {99, 0.013, THRUM_PATTERN_NONE},
                 {0, 0.0075, THRUM_PATTERN_FOUND},
                 {0, 0.013, THRUM_PATTERN_NONE},
                 {50, 0.0075, THRUM_PATTERN_NONE}};
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct thrum_run runs[100];
        struct thrum_pattern pattern;
        double t = 0.0;
        for (int i = 0; i < 100; i++) {
            double s = 0.02 + (i == cases[k].run ? cases[k].longer_s : 0.0);
            runs[i] = (struct thrum_run){i % 2, t, t + s};
            t += s;
        }
        assert_int_equal(thrum_pattern_find(runs, 100, &strict, &pattern), cases[k].found);
    }
}

static void too_little_is_called_too_short(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(3);
    struct thrum_voice voice = thrum_voice_beep(1000.0, 2.0, 2.0);
    struct thrum_run runs[MOST];
    struct thrum_pattern pattern;
    int n = runs_of(&voice, 0.5, 3.0, 0.0, &rng, runs);
    assert_int_equal(thrum_pattern_find(runs, n, &limits, &pattern), THRUM_PATTERN_TOO_SHORT);
    assert_int_equal(thrum_pattern_find(runs, 1, &limits, &pattern), THRUM_PATTERN_NONE);
    assert_int_equal(thrum_pattern_find(runs, 0, &limits, &pattern), THRUM_PATTERN_NONE);
}

static void a_pattern_said_three_times_is_reduced_to_one(void **state)
{
    (void)state;
    struct thrum_voice voice = {.n_tones = 1, .tones_hz = {500.0}, .n_steps = 6};
    const double s[] = {0.2, 0.3, 0.203, 0.297, 0.2, 0.303};
    for (int i = 0; i < 6; i++)
        voice.step[i] = (struct thrum_voice_step){i % 2 ? THRUM_SILENCE : 0, s[i]};
    struct thrum_voice strict = voice;
    strict.step[2].s = 0.215; /* 7 % longer is another step */
    assert_false(thrum_pattern_reduce(&strict, 0.004));
    assert_true(thrum_pattern_reduce(&voice, 0.004));
    assert_int_equal(voice.n_steps, 2);
    assert_close(voice.step[0].s, 0.201, 1e-9);
    assert_close(voice.step[1].s, 0.3, 1e-9);
    assert_false(thrum_pattern_reduce(&voice, 0.004));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_published_pattern_is_found_from_runs),
        cmocka_unit_test(runs_without_order_have_no_pattern),
        cmocka_unit_test(an_end_may_seem_longer_than_whole),
        cmocka_unit_test(too_little_is_called_too_short),
        cmocka_unit_test(a_pattern_said_three_times_is_reduced_to_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
