/* What the screen says in which state, without a terminal. */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "drawn.h"

static void who_may_still_be_on_the_wire_before_is_told_the_key(void **state)
{
    struct drawn *picture = *state;
    for (int i = 0; i < 4; i++) {
        bool again = i & 1, keys = i & 2;
        char step[120];
        drawn_make(picture, SCENE_HOLD, true);
        picture->snapshot.may_be_again = again;
        picture->facts.no_keys = !keys;
        snprintf(step, sizeof step, "Hold still on wire %s; if it is wire %s still, press r.",
                 picture->snapshot.current,
                 picture->snapshot.readings[picture->snapshot.n_readings - 1].wire);
        drawn_compose(picture, 24, 80);
        assert_int_equal(drawn_says(picture, step), again && keys);
        assert_int_equal(drawn_says(picture, "Hold the probe still on wire"), !(again && keys));
        snprintf(step, sizeof step, "r if still on %s",
                 picture->snapshot.readings[picture->snapshot.n_readings - 1].wire);
        drawn_compose(picture, 5, 20);
        assert_int_equal(drawn_says(picture, step), again && keys);
    }
}

/* Who holds the probe on the first wire is not told to put it there, nor to hold it on when it has been long enough. */
static void the_first_step_is_not_told_again_while_it_is_done(void **state)
{
    struct drawn *picture = *state;
    for (int i = 0; i < 4; i++) {
        bool touching = i < 2, enough = i % 2 == 0;
        drawn_make(picture, SCENE_ENOUGH, true);
        picture->snapshot.n_readings = 0;
        picture->snapshot.touching = touching;
        picture->snapshot.enough = touching && enough;
        drawn_compose(picture, 24, 80);
        assert_int_equal(drawn_says(picture, "Hold the probe still on wire"), touching && !enough);
        assert_int_equal(drawn_says(picture, "then put the probe on the next wire"), touching && enough);
        assert_int_equal(drawn_says(picture, "Put the probe on wire"), !touching);
        picture->facts.hands_free = true;
        drawn_compose(picture, 24, 80);
        assert_int_equal(drawn_says(picture, "Lift the probe, then rest it on the next"), touching && enough);
    }
}

/* The next touch counts as the current wire's, so the words ask for that one where it helps. */
static void the_words_ask_for_the_wire_that_the_tag_shows(void **state)
{
    static const struct {
        const char *current, *full, *narrow;
    } told[] = {
        {"8", "Touch wire 8 again.", "Touch wire 8 again."},
        {"7", "Touch wire 7 again.", "Touch wire 7 again."},
        {"1", "Touch wire 8 again.", "Touch wire 8 again."}, /* would not help */
        {"25", "Go on with wire 25, or touch 8 again: type its tag first.", "touch 25, or 8"},
    };
    struct drawn *picture = *state;
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        drawn_make(picture, SCENE_CLOSE, false);
        snprintf(picture->snapshot.current, sizeof picture->snapshot.current, "%s", told[i].current);
        drawn_compose(picture, 24, 80);
        assert_true(drawn_says(picture, told[i].full));
        drawn_compose(picture, 24, 20);
        assert_true(drawn_says(picture, told[i].narrow));
    }
    picture->facts.no_keys = true; /* no tag can be typed */
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "Touch wire 8 again."));
    drawn_make(picture, SCENE_CLOSE, false); /* all once more: in order, whatever would help most */
    picture->snapshot.all_again = true;
    snprintf(picture->snapshot.current, sizeof picture->snapshot.current, "3");
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "Touch wire 3, then the others in order"));
    drawn_compose(picture, 24, 20);
    assert_true(drawn_says(picture, "touch 3"));
    picture->snapshot.touching = true; /* it is done: it is not asked for again */
    for (int enough = 0; enough < 2; enough++) {
        picture->snapshot.enough = enough;
        drawn_compose(picture, 24, 80);
        assert_int_equal(drawn_says(picture, "Hold the probe still on wire 3."), !enough);
        assert_int_equal(drawn_says(picture, "Press space, then put the probe on the next"), enough);
        drawn_compose(picture, 5, 20);
        assert_int_equal(drawn_says(picture, "hold still"), !enough);
        assert_int_equal(drawn_says(picture, "space, then next"), enough);
    }
    picture->snapshot.taken = true; /* the probe is still on the wire before */
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "Touch wire 3, then the others in order"));
}

/* Only hum beside a strength of the touch would be a contradiction. */
static void a_tone_that_is_measured_is_not_called_hum(void **state)
{
    struct drawn *picture = *state;
    drawn_make(picture, SCENE_HOLD, false);
    picture->snapshot.now.heard = THRUM_HEARD_NO_TONE;
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "Heard: a tone, not known yet whose"));
    drawn_compose(picture, 5, 20);
    assert_true(drawn_says(picture, "tone?"));
    for (int i = 0; i < picture->snapshot.so_far.n_senders; i++)
        picture->snapshot.so_far.strength[i].heard = false;
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "Heard: only hum"));
}

/* It was said how many wires there are, and only those touched have tags: the next one is that of the current tag, or any other. */
static void a_wire_without_a_tag_is_not_asked_for_by_its_tag(void **state)
{
    static const int size[][2] = {{24, 80}, {18, 60}, {8, 33}, {5, 20}};
    struct drawn *picture = *state;
    for (size_t i = 0; i < sizeof size / sizeof size[0]; i++)
        for (int back = 0; back < 2; back++) {
            drawn_make(picture, SCENE_HOLD, false);
            picture->snapshot.touching = false;
            picture->snapshot.n_wires = 7;
            picture->snapshot.pick[0].next_touch = 7;
            snprintf(picture->snapshot.current, sizeof picture->snapshot.current, "%d", back ? 3 : 8);
            drawn_compose(picture, size[i][0], size[i][1]);
            assert_null(strchr(picture->text, '?'));
            if (i == 0)
                assert_true(drawn_says(picture, back ? "Touch a wire that has not been touched yet."
                                                     : "Touch wire 8."));
        }
}

static void every_state_is_told_in_words(void **state)
{
    struct drawn *picture = *state;
    for (int i = 0; i < n_drawn_said; i++)
        for (int utf8 = 0; utf8 < 2; utf8++) {
            drawn_make(picture, drawn_said[i].scene, utf8);
            drawn_compose(picture, 5, 20);
            assert_true(drawn_says(picture, drawn_said[i].narrow));
            static const int full[][2] = {{15, 60}, {24, 80}, {40, 120}, {60, 200}};
            for (size_t k = 0; k < 4; k++) {
                drawn_compose(picture, full[k][0], full[k][1]);
                if (!drawn_says_all(picture, drawn_said[i].full))
                    fail_msg("%s at %dx%d does not say \"%s\"", scene_text(drawn_said[i].scene), full[k][1],
                             full[k][0], drawn_said[i].full);
            }
        }
}

/* A sentence that does not fit is said in few words, not cut: from 30 columns on, where rows have names. */
static void what_is_heard_and_the_hum_are_never_cut(void **state)
{
    struct drawn *picture = *state;
    static const struct {
        enum thrum_heard heard;
        enum thrum_input_state input;
        const char *sentence, *brief;
    } said[] = {
        {THRUM_HEARD_SILENCE, THRUM_INPUT_LIVE, "no sound reaches this input at all",
         "Heard: digital silence "},
        {THRUM_HEARD_TOO_LOW, THRUM_INPUT_LIVE, "something, but too low to use", "Heard: too low to use "},
        {THRUM_HEARD_OTHER_CADENCE, THRUM_INPUT_LIVE, "a tone with another cadence",
         "Heard: another cadence "},
        {THRUM_HEARD_OVERLOAD, THRUM_INPUT_LIVE, "the input is overloaded", "Heard: too loud "},
        {THRUM_HEARD_TONE, THRUM_INPUT_LOST, "nothing - the input is lost", "Heard: the input is lost "},
        {THRUM_HEARD_TONE, THRUM_INPUT_ENDED, "the sound has ended", "Heard: the sound has ended "},
        {THRUM_HEARD_TONE, THRUM_INPUT_WAIT, "waiting for the input", "Heard: waiting for the input "},
        {THRUM_HEARD_TONE, THRUM_INPUT_LIVE, "Heard: the sender's beeps", "Heard: the sender's beeps "},
    };
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        for (int cols = 30; cols <= 80; cols++) {
            drawn_make(picture, SCENE_HOLD, false);
            picture->snapshot.now.heard = said[i].heard;
            picture->snapshot.now.hum_removed_db = 31.0;
            picture->facts.input_state = said[i].input;
            drawn_compose(picture, 24, cols);
            if (!drawn_says(picture, said[i].sentence) && !drawn_says(picture, said[i].brief))
                fail_msg("at %d columns: no \"%s\" and no \"%s\" in\n%s", cols, said[i].sentence,
                         said[i].brief, picture->text);
            if (said[i].input != THRUM_INPUT_LIVE)
                continue;
            assert_true(drawn_says(picture, "31 dB taken out") || drawn_says(picture, ", 31 dB out"));
            picture->snapshot.now.hum_dbfs = -12.0;
            drawn_compose(picture, 24, cols);
            assert_true(drawn_says(picture, "unplug charger"));
        }
}

/* Two states that differ must differ in text; the inks are not looked at. */
static void no_two_states_look_alike_without_colour(void **state)
{
    struct drawn *picture = *state;
    static char texts[SCENES][5 * 21 + 1]; /* ASCII: one byte a cell */
    for (int scene = 0; scene < SCENES; scene++) {
        drawn_make(picture, (enum scene_name)scene, false);
        picture->facts.lost_frames = 0;
        drawn_compose(picture, 5, 20);
        assert_int_equal(strlen(picture->text), 5 * 21);
        memcpy(texts[scene], picture->text, sizeof texts[scene]);
    }
    for (int a = 0; a < SCENES; a++)
        for (int b = a + 1; b < SCENES; b++) {
            if ((a == SCENE_PICKED && b == SCENE_TWO_SENDERS) ||
                (b == SCENE_PICKED && a == SCENE_TWO_SENDERS))
                continue; /* the other sender is a key away at this size */
            if (strcmp(texts[a], texts[b]) == 0)
                fail_msg("%s and %s look alike", scene_text((enum scene_name)a),
                         scene_text((enum scene_name)b));
        }
}

static void chances_are_never_rounded_up_to_certainty(void **state)
{
    struct drawn *picture = *state;
    drawn_make(picture, SCENE_PICKED, false);
    picture->snapshot.pick[0].chance = 0.99989;
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, "99.9 % sure"));
    picture->snapshot.pick[0].chance = 1.0;
    drawn_compose(picture, 24, 80);
    assert_true(drawn_says(picture, ">99.9 % sure"));
    assert_false(drawn_says(picture, "100.0 %"));
}

#define ON_PICTURE(test) cmocka_unit_test_setup_teardown(test, drawn_set_up, drawn_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        ON_PICTURE(who_may_still_be_on_the_wire_before_is_told_the_key),
        ON_PICTURE(the_first_step_is_not_told_again_while_it_is_done),
        ON_PICTURE(the_words_ask_for_the_wire_that_the_tag_shows),
        ON_PICTURE(a_tone_that_is_measured_is_not_called_hum),
        ON_PICTURE(a_wire_without_a_tag_is_not_asked_for_by_its_tag),
        ON_PICTURE(every_state_is_told_in_words),
        ON_PICTURE(what_is_heard_and_the_hum_are_never_cut),
        ON_PICTURE(no_two_states_look_alike_without_colour),
        ON_PICTURE(chances_are_never_rounded_up_to_certainty),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
