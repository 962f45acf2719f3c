/* What libraries write to standard error: the newest lines are shown, and the file stays small. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "commands/chatter.h"

struct talk {
    struct chatter chatter;
    FILE *library; /* appends, as standard error does */
    struct thrum_screen_facts facts;
};

static int set_up(void **state)
{
    struct talk *talk = calloc(1, sizeof *talk);
    assert_non_null(talk);
    chatter_begin(&talk->chatter);
    assert_true(talk->chatter.fd >= 0);
    talk->library = fopen(talk->chatter.path, "a");
    assert_non_null(talk->library);
    setvbuf(talk->library, NULL, _IONBF, 0);
    *state = talk;
    return 0;
}

static int tear_down(void **state)
{
    struct talk *talk = *state;
    fclose(talk->library);
    chatter_end(&talk->chatter);
    free(talk);
    return 0;
}

static void the_newest_lines_are_shown(void **state)
{
    struct talk *talk = *state;
    chatter_newest(&talk->chatter, &talk->facts);
    assert_int_equal(talk->facts.n_log, 0);
    for (int i = 0; i < 1000; i++)
        fprintf(talk->library, "underrun %d\n", i);
    chatter_newest(&talk->chatter, &talk->facts);
    assert_int_equal(talk->facts.n_log, THRUM_FACT_LOGS);
    assert_string_equal(talk->facts.log[0], "underrun 992");
    assert_string_equal(talk->facts.log[THRUM_FACT_LOGS - 1], "underrun 999");
}

static void equal_lines_are_counted(void **state)
{
    struct talk *talk = *state;
    fputs("opened\n", talk->library);
    for (int i = 0; i < 20; i++)
        fputs("underrun\n", talk->library);
    fputs("closed\nunderrun\n", talk->library);
    chatter_newest(&talk->chatter, &talk->facts);
    assert_int_equal(talk->facts.n_log, 4);
    assert_string_equal(talk->facts.log[0], "opened");
    assert_string_equal(talk->facts.log[1], "underrun (20 times)");
    assert_string_equal(talk->facts.log[2], "closed");
    assert_string_equal(talk->facts.log[3], "underrun");
}

static void a_line_without_end_is_cut(void **state)
{
    struct talk *talk = *state;
    for (int i = 0; i < 3000; i++)
        fputs("underrun", talk->library);
    chatter_newest(&talk->chatter, &talk->facts);
    assert_int_equal(talk->facts.n_log, 1);
    assert_true(strlen(talk->facts.log[0]) < THRUM_FACT_TEXT);
    assert_true(strlen(talk->facts.log[0]) > THRUM_FACT_TEXT / 2);
}

static void the_file_stays_small_and_keeps_the_newest(void **state)
{
    struct talk *talk = *state;
    struct stat file;
    for (int i = 0; i < 100000; i++) {
        fprintf(talk->library, "snd_pcm_recover() underrun no. %d\n", i);
        chatter_bound(&talk->chatter);
    }
    assert_int_equal(stat(talk->chatter.path, &file), 0);
    assert_true(file.st_size <= 256 * 1024 + 64);
    chatter_newest(&talk->chatter, &talk->facts);
    assert_int_equal(talk->facts.n_log, THRUM_FACT_LOGS);
    assert_string_equal(talk->facts.log[THRUM_FACT_LOGS - 1], "snd_pcm_recover() underrun no. 99999");
    assert_string_equal(talk->facts.log[0], "snd_pcm_recover() underrun no. 99992");
}

static void without_a_file_there_is_no_log(void **state)
{
    struct talk *talk = *state;
    struct chatter nowhere = {.fd = -1};
    talk->facts.n_log = 3;
    chatter_bound(&nowhere);
    chatter_newest(&nowhere, &talk->facts);
    assert_int_equal(talk->facts.n_log, 0);
    chatter_end(&nowhere);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_newest_lines_are_shown, set_up, tear_down),
        cmocka_unit_test_setup_teardown(equal_lines_are_counted, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_line_without_end_is_cut, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_file_stays_small_and_keeps_the_newest, set_up, tear_down),
        cmocka_unit_test_setup_teardown(without_a_file_there_is_no_log, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
