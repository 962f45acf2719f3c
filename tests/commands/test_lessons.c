/* What the three practice rounds teach is true of their bundles: the claims of the explanation afterwards, against the simulated
 * strengths. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "commands/practice_lesson.h"

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
    assert_true(facts.within_db_2_and_3 >= 2);
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
        cmocka_unit_test(other_names_are_no_lessons),
        cmocka_unit_test(what_is_offered_fits_80_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
