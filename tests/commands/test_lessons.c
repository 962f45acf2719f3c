/* What the three practice rounds teach is true of their bundles: the claims of the explanation afterwards, against the simulated
 * strengths. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/practice_lesson.h"
#include "thrum/round.h"

struct facts {
    struct thrum_practice_config config;
    double driven_db, second_db, weakest_db;
    int within_db_2_and_3; /* wires that are 2 to 3 dB weaker than the driven one */
};

static void look(const char *lesson, struct facts *facts)
{
    struct thrum_practice *practice;
    assert_true(lesson_config(lesson, &facts->config));
    assert_int_equal(thrum_practice_create(&facts->config, &practice), THRUM_OK);
    int driven = thrum_practice_driven(practice);
    facts->driven_db = thrum_practice_strength(practice, driven);
    facts->second_db = -HUGE_VAL;
    facts->weakest_db = HUGE_VAL;
    facts->within_db_2_and_3 = 0;
    for (int i = 0; i < facts->config.n_wires; i++) {
        double db = thrum_practice_strength(practice, i);
        if (i == driven)
            continue;
        facts->second_db = fmax(facts->second_db, db);
        facts->weakest_db = fmin(facts->weakest_db, db);
        facts->within_db_2_and_3 += facts->driven_db - db > 1.95 && facts->driven_db - db < 3.05;
    }
    thrum_practice_destroy(practice);
}

static void easy_neighbours_are_over_10_db_down_and_the_rest_next_to_nothing(void **state)
{
    struct facts facts;
    (void)state;
    look("easy", &facts);
    assert_true(facts.driven_db - facts.second_db > 10.0);
    assert_true(facts.driven_db - facts.weakest_db > 40.0);
}

static void neighbours_that_hang_free_are_2_to_3_db_down(void **state)
{
    struct facts facts;
    (void)state;
    look("neighbours", &facts);
    assert_true(facts.driven_db - facts.second_db > 1.95);
    assert_true(facts.within_db_2_and_3 >= 1);
    assert_true(facts.driven_db - facts.weakest_db > 40.0); /* tied ones are there to compare with */
}

static void the_shared_tone_on_a_harmonic_differs_by_less_than_the_hand(void **state)
{
    struct facts facts;
    (void)state;
    look("harmonic", &facts);
    assert_true(facts.driven_db - facts.weakest_db < 1.0);
    assert_close(fmod(facts.config.voice.tones_hz[0], facts.config.mains_hz), 0.0, 0.0);
    assert_close(facts.config.voice.tones_hz[0], 1000.0, 0.0);
    assert_close(facts.config.mains_hz, 50.0, 0.0);
}

/* --- Played as a learner does: one touch of each wire ------------------------------------------------------------ */

struct played {
    struct thrum_practice *practice;
    struct thrum_round *round;
    double rate_hz;
};

static void hear(struct played *played, int wire, double seconds)
{
    static float x[48000];
    size_t n = (size_t)(seconds * played->rate_hz);
    assert_true(n <= sizeof x / sizeof x[0]);
    thrum_practice_place(played->practice, wire);
    thrum_practice_read(played->practice, x, n);
    thrum_round_feed(played->round, x, n);
}

static void touch(struct played *played, int wire, double seconds)
{
    char tag[THRUM_WIRE_TAG_SIZE];
    snprintf(tag, sizeof tag, "%d", wire + 1);
    assert_int_equal(thrum_round_act(played->round, THRUM_GO_TO, tag), THRUM_OK);
    assert_int_equal(thrum_round_act(played->round, THRUM_TAKE, NULL), THRUM_OK);
    hear(played, wire, seconds);
    assert_int_equal(thrum_round_act(played->round, THRUM_TAKE, NULL), THRUM_OK);
    hear(played, THRUM_PROBE_IN_AIR, 1.0);
}

/* The hand is never the same: each placing of it before the round makes it another one. */
static enum thrum_outcome outcome_of(const char *lesson, int hand)
{
    static struct thrum_snapshot snapshot;
    struct thrum_practice_config config;
    struct played played = {.rate_hz = 8000.0};
    assert_true(lesson_config(lesson, &config));
    config.rate_hz = played.rate_hz;
    struct thrum_round_config *round = calloc(1, sizeof *round);
    assert_non_null(round);
    round->listener.rate_hz = played.rate_hz;
    round->listener.channels = 1;
    round->listener.channel = -1;
    round->listener.n_voices = 1;
    round->listener.voice[0] = config.voice;
    round->pick = thrum_pick_config_default();
    round->n_wires = config.n_wires;
    assert_int_equal(thrum_practice_create(&config, &played.practice), THRUM_OK);
    assert_int_equal(thrum_round_create(round, &played.round), THRUM_OK);
    for (int i = 0; i < hand; i++) {
        hear(&played, 0, 0.1);
        hear(&played, THRUM_PROBE_IN_AIR, 0.1);
    }
    hear(&played, THRUM_PROBE_IN_AIR, 2.0);
    for (int wire = 0; wire < config.n_wires; wire++)
        touch(&played, wire, 3.0);
    thrum_round_snapshot(played.round, &snapshot);
    thrum_round_destroy(played.round);
    thrum_practice_destroy(played.practice);
    free(round);
    return snapshot.pick[0].outcome;
}

/* Else the explanation speaks of what the learner has not seen. */
static void one_touch_each_shows_what_is_explained(void **state)
{
    (void)state;
    for (int hand = 0; hand < 5; hand++) {
        assert_int_equal(outcome_of("easy", hand), THRUM_PICKED);
        assert_int_equal(outcome_of("neighbours", hand), THRUM_TOO_CLOSE);
        assert_int_equal(outcome_of("harmonic", hand), THRUM_EVERYWHERE);
    }
}

static void other_names_are_no_lessons(void **state)
{
    struct thrum_practice_config config;
    (void)state;
    assert_false(lesson_config("7", &config));
    assert_false(lesson_config("", &config));
}

static void what_is_offered_fits_80_columns(void **state)
{
    (void)state;
    char line[300];
    FILE *stream = tmpfile();
    assert_non_null(stream);
    lesson_offer(stream);
    rewind(stream);
    for (int n = 0; fgets(line, sizeof line, stream) || n < 6; n++) {
        assert_true(n < 20);
        if (strlen(line) > 81) /* with its line end */
            fail_msg("too long: %s", line);
    }
    fclose(stream);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(easy_neighbours_are_over_10_db_down_and_the_rest_next_to_nothing),
        cmocka_unit_test(neighbours_that_hang_free_are_2_to_3_db_down),
        cmocka_unit_test(the_shared_tone_on_a_harmonic_differs_by_less_than_the_hand),
        cmocka_unit_test(one_touch_each_shows_what_is_explained),
        cmocka_unit_test(other_names_are_no_lessons),
        cmocka_unit_test(what_is_offered_fits_80_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
