/* What the stretches of a check say together of a level control, from readings whose truth is known. */
#include "check.h"

#include <string.h>

#include "commands/check_breath.h"

enum { STRETCHES = 2 };

/* Stretches that agree, with hum so far over the beeps; sd_db is that of all together. */
static struct check_facts judged(int n, double breath_db, double sd_db, double hum_over_db)
{
    struct thrum_reading readings[STRETCHES];
    struct check_facts facts;
    memset(readings, 0, sizeof readings);
    memset(&facts, 0, sizeof facts);
    for (int i = 0; i < n; i++) {
        readings[i] =
            (struct thrum_reading){.hum_dbfs = -30.0 + hum_over_db, .noise_dbfs = -90.0, .n_senders = 1};
        readings[i].strength[0].dbfs = -30.0;
        readings[i].breath_db = breath_db;
        readings[i].breath_sd_db = sd_db * sqrt(n);
    }
    check_breath(readings, n, &facts);
    return facts;
}

static void assert_judged(const struct check_facts *facts, enum check_breath breath, bool rides)
{
    assert_int_equal(facts->breath, breath);
    assert_int_equal(facts->faults, rides ? THRUM_FAULT_GAIN_RIDING : 0);
    assert_int_equal(facts->would_show, breath == CHECK_BREATH_ALIKE);
}

static void stretches_tell_together_what_none_proves(void **state)
{
    (void)state;
    struct check_facts facts = judged(2, 0.6, 0.05, -20.0);
    assert_judged(&facts, CHECK_BREATH_LOUDER, true);
    assert_int_equal(facts.told, 2);
    assert_close(facts.breath_db, 0.6, 1e-12);
    assert_close(facts.breath_sd_db, 0.05, 1e-12);
    facts = judged(1, 0.6, 0.05, -20.0); /* one has been judged by itself, with all that it shows */
    assert_judged(&facts, CHECK_BREATH_LOUDER, false);
}

/* A control cannot give back more than the beeps have pushed down: under hum 20 dB up that is 0.04 dB. */
static void hum_that_moves_by_itself_is_no_level_control(void **state)
{
    (void)state;
    struct check_facts facts = judged(2, 1.2, 0.18, 20.0);
    assert_judged(&facts, CHECK_BREATH_UNKNOWN, false);
}

static void what_is_neither_sure_nor_chance_is_not_trusted(void **state)
{
    (void)state;
    struct check_facts facts = judged(2, 0.15, 0.05, -20.0);
    assert_judged(&facts, CHECK_BREATH_LOUDER, false);
    facts = judged(2, -1.0, 0.1, -20.0);
    assert_judged(&facts, CHECK_BREATH_QUIETER, false);
    facts = judged(2, -0.9, 0.19, -10.0);
    assert_judged(&facts, CHECK_BREATH_QUIETER, false);
    facts = judged(2, -0.4, 0.1, -20.0); /* a sender may bring a little hiss along */
    assert_judged(&facts, CHECK_BREATH_ALIKE, false);
}

static void a_control_must_have_been_able_to_show(void **state)
{
    (void)state;
    struct check_facts facts = judged(2, 0.02, 0.05, -10.0);
    assert_judged(&facts, CHECK_BREATH_ALIKE, false);
    facts = judged(2, 0.02, 0.05, 10.0); /* beeps that raise the level by 0.4 dB */
    assert_judged(&facts, CHECK_BREATH_UNKNOWN, false);
    facts = judged(0, 0.0, 0.0, 0.0);
    assert_judged(&facts, CHECK_BREATH_UNKNOWN, false);
    assert_int_equal(facts.told, 0);
}

/* Whether the person is told which switches to look at. */
static bool names_switches(enum check_verdict verdict, enum check_breath breath)
{
    struct check_facts facts = {.verdict = verdict, .breath = breath, .stretches = 3, .has_voice = true};
    char text[8000];
    FILE *file = tmpfile();
    assert_non_null(file);
    facts.info.rate_hz = 48000.0;
    facts.info.channels = 1;
    facts.learned.voice = thrum_voice_beep(1037.0, 0.25, 0.25);
    check_print(&facts, file);
    rewind(file);
    size_t n = fread(text, 1, sizeof text - 1, file);
    text[n] = 0;
    fclose(file);
    return strstr(text, "Try: alsamixer") != NULL;
}

static void the_switches_are_named_where_one_is_only_suspected(void **state)
{
    (void)state;
    assert_true(names_switches(CHECK_UNCLEAR, CHECK_BREATH_LOUDER));
    assert_true(names_switches(CHECK_UNCLEAR, CHECK_BREATH_QUIETER));
    assert_false(names_switches(CHECK_UNCLEAR, CHECK_BREATH_UNKNOWN));
    assert_false(names_switches(CHECK_TRUSTED, CHECK_BREATH_ALIKE));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_switches_are_named_where_one_is_only_suspected),
        cmocka_unit_test(stretches_tell_together_what_none_proves),
        cmocka_unit_test(hum_that_moves_by_itself_is_no_level_control),
        cmocka_unit_test(what_is_neither_sure_nor_chance_is_not_trusted),
        cmocka_unit_test(a_control_must_have_been_able_to_show),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
