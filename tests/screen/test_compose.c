/* The picture at every size and in every state, without a terminal. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drawn.h"
#include "screen/canvas.h"
#include "screen/digits.h"

static const int sizes[][2] = {{0, 0},   {1, 1},    {1, 80},   {4, 19},   {5, 20},   {5, 19},
                               {4, 20},  {8, 33},   {14, 60},  {15, 59},  {15, 60},  {18, 60},
                               {24, 80}, {21, 120}, {22, 100}, {40, 120}, {60, 200}, {80, 240},
                               {5, 240}, {80, 20},  {1, 240},  {80, 1}};
#define N_SIZES (sizeof sizes / sizeof sizes[0])

/* Every cell holds one printable character that takes the columns it has, and nothing was written elsewhere. */
static void assert_well_formed(const struct drawn *picture)
{
    const struct thrum_cell *cell = picture->cells + DRAWN_GUARD;
    int n = picture->rows * picture->cols;
    for (int i = 0; i < n; i++) {
        assert_true(cell[i].ink < THRUM_INKS);
        if (cell[i].glyph[0] == 0) {
            assert_true(i % picture->cols > 0); /* right half of a wide character */
            continue;
        }
        unsigned long code;
        assert_true(canvas_decode(cell[i].glyph, &code) > 0);
        assert_true(canvas_printable(code, picture->view.utf8));
        int width = canvas_width(picture->view.utf8, cell[i].glyph);
        assert_int_equal(width, i % picture->cols + 1 < picture->cols && cell[i + 1].glyph[0] == 0 ? 2 : 1);
    }
    const unsigned char *before = (const unsigned char *)picture->cells;
    const unsigned char *behind = (const unsigned char *)(cell + n);
    for (size_t i = 0; i < DRAWN_GUARD * sizeof *cell; i++) {
        assert_int_equal(before[i], 0x5A);
        assert_int_equal(behind[i], 0x5A);
    }
}

static void every_state_fits_every_size(void **state)
{
    struct drawn *picture = *state;
    for (int scene = 0; scene < SCENES; scene++)
        for (size_t i = 0; i < N_SIZES; i++)
            for (int way = 0; way < 14; way++) {
                drawn_make(picture, (enum scene_name)scene, way & 1);
                picture->view.help = way / 2 == 1;
                picture->view.log = way / 2 == 2;
                picture->view.held = way / 2 == 3;
                picture->view.pasted = way / 2 == 4;
                picture->view.entering = way / 2 == 4;
                picture->facts.practice = way / 2 == 5;
                picture->view.inputs = way / 2 == 6;
                picture->facts.moved[0] = way & 1 ? 'x' : 0;
                picture->snapshot.may_be_again = way & 1 && picture->snapshot.n_readings > 0;
                picture->facts.n_inputs = scene % (THRUM_FACT_INPUTS + 1);
                drawn_compose(picture, sizes[i][0], sizes[i][1]);
                assert_well_formed(picture);
            }
}

static void every_size_up_to_the_largest_holds_the_picture(void **state)
{
    struct drawn *picture = *state;
    drawn_make(picture, SCENE_CLOSE, true);
    for (int rows = 1; rows <= 62; rows += 1)
        for (int cols = 1; cols <= 202; cols += rows % 3 + 1) {
            drawn_compose(picture, rows, cols);
            assert_well_formed(picture);
        }
}

/* However many lines a driver writes and however long they are: the bar stays, and the newest can be read. */
static void the_log_ends_with_its_newest_line(void **state)
{
    static const int shapes[][2] = {{5, 20}, {6, 20}, {8, 33}, {15, 60}, {24, 80}};
    struct drawn *picture = *state;
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        drawn_make(picture, SCENE_PICKED, false);
        drawn_compose(picture, shapes[i][0], shapes[i][1]);
        picture->view.log = true;
        picture->facts.n_log = THRUM_FACT_LOGS;
        for (int k = 0; k < THRUM_FACT_LOGS; k++)
            snprintf(picture->facts.log[k], sizeof picture->facts.log[k], "snd_pcm_recover() underrun no. %d",
                     k);
        drawn_compose(picture, shapes[i][0], shapes[i][1]);
        assert_well_formed(picture);
        assert_true(drawn_says(picture, "no. 7"));
        assert_true(drawn_says(picture, "l goes back"));
        assert_true(strchr(picture->text, '#') != NULL);
    }
    for (int k = 0; k < THRUM_FACT_LOGS; k++)
        memset(picture->facts.log[k], 'x', sizeof picture->facts.log[k] - 1);
    memcpy(picture->facts.log[THRUM_FACT_LOGS - 1], "newest", 6);
    drawn_compose(picture, 5, 20);
    assert_true(drawn_says(picture, "newest"));
}

/* 0:0 is another time than 0:06. */
static void the_time_is_whole_or_not_there(void **state)
{
    struct drawn *picture = *state;
    int whole = 0, absent = 0;
    for (int cols = 20; cols <= 120; cols++) {
        drawn_make(picture, SCENE_CLOSE, true);
        picture->facts.live = false;
        picture->facts.practice = true;
        picture->facts.record = THRUM_RECORD_OFF;
        picture->facts.length_s = 0.0;
        picture->snapshot.now.frames = (uint64_t)(6.0 * picture->snapshot.rate_hz);
        drawn_compose(picture, 10, cols);
        char *first = strtok(picture->text, "\n");
        whole += strstr(first, "0:06") != NULL;
        absent += strstr(first, "0:") == NULL;
    }
    assert_true(whole > 50);
    assert_int_equal(whole + absent, 101);
}

static void verdict_and_bar_are_there_from_20x5_on(void **state)
{
    struct drawn *picture = *state;
    for (int rows = 5; rows <= 60; rows++)
        for (int cols = 20; cols <= 200; cols += 5) {
            drawn_make(picture, SCENE_PICKED, false);
            drawn_compose(picture, rows, cols);
            assert_true(drawn_says(picture, "PICK"));
            assert_true(drawn_says(picture, "99.6 %"));
            assert_true(drawn_says(picture, "####")); /* bar */
            assert_true(drawn_says(picture, "-66.4"));
        }
}

static void below_20x5_there_is_one_line(void **state)
{
    struct drawn *picture = *state;
    drawn_make(picture, SCENE_PICKED, false);
    drawn_compose(picture, 4, 40);
    assert_true(strncmp(picture->text, "PICK 7 99.6 % -66.4 BEEPS", 25) == 0);
    for (const char *c = picture->text + 41; *c; c++)
        assert_true(*c == ' ' || *c == '\n');
    drawn_make(picture, SCENE_LOST, false);
    drawn_compose(picture, 1, 6);
    assert_string_equal(picture->text, "LOST P\n");
}

/* What was measured last is not what is there now. */
static void nothing_stale_is_shown_without_sound(void **state)
{
    struct drawn *picture = *state;
    static const enum scene_name without[] = {SCENE_LOST, SCENE_ENDED, SCENE_WAIT};
    for (size_t i = 0; i < sizeof without / sizeof without[0]; i++)
        for (size_t k = 0; k < N_SIZES; k++) {
            drawn_make(picture, without[i], false);
            picture->snapshot.now.bar_dbfs[0] = picture->snapshot.now.steady_dbfs[0] = -66.4;
            drawn_compose(picture, sizes[k][0], sizes[k][1]);
            assert_false(drawn_says(picture, "-66.4"));
            assert_false(drawn_says(picture, "-25.1")); /* hum */
            assert_false(drawn_says(picture, "####|") || drawn_says(picture, "####."));
        }
}

static void whether_it_records_is_said_from_20x5_on(void **state)
{
    struct drawn *picture = *state;
    for (int scene = 0; scene < SCENES; scene++)
        for (int record = THRUM_RECORD_OFF; record <= THRUM_RECORD_FAILED; record++)
            for (size_t k = 0; k < N_SIZES; k++) {
                static const char *const word[] = {"", "rec", "REC"};
                /* The end of the sound ends the recording too. */
                if (scene == SCENE_NONSENSE || scene == SCENE_ENDED || scene == SCENE_FINISHED ||
                    sizes[k][0] < 5 || sizes[k][1] < 20)
                    continue;
                drawn_make(picture, (enum scene_name)scene, false);
                picture->facts.record = (enum thrum_record_state)record;
                picture->facts.message[0] = 0;
                drawn_compose(picture, sizes[k][0], sizes[k][1]);
                /* The input that is lost comes first; its words take the row. */
                bool room = scene != SCENE_LOST || sizes[k][0] > 5;
                if (room && !drawn_says(picture, word[record]))
                    fail_msg("%s at %dx%d:\n%s", scene_text((enum scene_name)scene), sizes[k][1], sizes[k][0],
                             picture->text);
            }
}

static void what_to_change_is_said_whole_from_80x24_on(void **state)
{
    struct drawn *picture = *state;
    static const enum thrum_pick_note notes[] = {THRUM_NOTE_TWO_EQUAL, THRUM_NOTE_RETURN, THRUM_NOTE_SAGGING};
    static const int large[][2] = {{24, 80}, {40, 120}, {60, 200}};
    for (size_t k = 0; k < sizeof large / sizeof large[0]; k++) {
        drawn_make(picture, SCENE_EVERYWHERE, false);
        drawn_compose(picture, large[k][0], large[k][1]);
        assert_true(drawn_says_all(picture, thrum_pick_note_text(THRUM_NOTE_LIFT_COMMON)));
        drawn_make(picture, SCENE_NO_TONE, false);
        drawn_compose(picture, large[k][0], large[k][1]);
        assert_true(drawn_says_all(picture, thrum_pick_note_text(THRUM_NOTE_CHECK_SENDER)));
        for (size_t n = 0; n < sizeof notes / sizeof notes[0]; n++) {
            drawn_make(picture, SCENE_PICKED, false);
            picture->snapshot.pick[0].notes = (uint32_t)notes[n];
            drawn_compose(picture, large[k][0], large[k][1]);
            if (!drawn_says_all(picture, thrum_pick_note_text(notes[n])))
                fail_msg("%dx%d:\n%s", large[k][1], large[k][0], picture->text);
        }
    }
}

static int count_of(const struct drawn *picture, const char *glyph)
{
    int count = 0;
    for (const char *c = picture->text; (c = strstr(c, glyph)) != NULL; c++)
        count++;
    return count;
}

static void practice_is_said_from_20x5_on(void **state)
{
    struct drawn *picture = *state;
    for (int scene = 0; scene < SCENES; scene++)
        for (size_t i = 0; i < N_SIZES; i++) {
            if (scene == SCENE_NONSENSE || sizes[i][0] < 5 || sizes[i][1] < 20)
                continue;
            drawn_make(picture, (enum scene_name)scene, false);
            picture->facts.practice = true;
            drawn_compose(picture, sizes[i][0], sizes[i][1]);
            if (count_of(picture, "PRACTICE") != 1)
                fail_msg("%s at %dx%d:\n%s", scene_text((enum scene_name)scene), sizes[i][1], sizes[i][0],
                         picture->text);
        }
}

static void the_bar_maps_its_ends_exactly(void **state)
{
    (void)state;
    assert_close(thrum_screen_bar(THRUM_BAR_LOW_DBFS), 0.0, 0.0);
    assert_close(thrum_screen_bar(THRUM_BAR_HIGH_DBFS), 1.0, 0.0);
    assert_close(thrum_screen_bar(0.5 * (THRUM_BAR_LOW_DBFS + THRUM_BAR_HIGH_DBFS)), 0.5, 1e-15);
    assert_close(thrum_screen_bar(THRUM_FLOOR_DBFS), 0.0, 0.0);
    assert_close(thrum_screen_bar(20.0), 1.0, 0.0);
    assert_close(thrum_screen_bar((double)NAN), 0.0, 0.0);
    assert_close(thrum_screen_bar((double)INFINITY), 1.0, 0.0);
    assert_close(thrum_screen_bar(-(double)INFINITY), 0.0, 0.0);
    for (double db = -120.0; db < 10.0; db += 0.1)
        assert_true(thrum_screen_bar(db + 0.1) >= thrum_screen_bar(db));
}

/* A row of 40 columns is 100 dB long: 2.5 dB a column, 0.3125 dB an eighth. */
static void the_bar_is_as_long_as_the_level(void **state)
{
    struct drawn *picture = *state;
    static const struct {
        double dbfs;
        int whole;
        const char *rest;
    } bars[] = {{-100.0, 0, ""}, {-97.5, 1, ""},  {-97.4, 1, ""}, {-96.25, 1, "▌"},
                {-50.0, 20, ""}, {-0.1, 39, "▉"}, {0.0, 40, ""},  {12.0, 40, ""}};
    for (size_t i = 0; i < sizeof bars / sizeof bars[0]; i++) {
        drawn_make(picture, SCENE_START, true);
        picture->snapshot.now.bar_dbfs[0] = bars[i].dbfs;
        picture->snapshot.now.best_dbfs[0] = THRUM_FLOOR_DBFS;
        drawn_compose(picture, 5, 40);
        assert_int_equal(count_of(picture, "█"), bars[i].whole);
        if (bars[i].rest[0])
            assert_true(drawn_says(picture, bars[i].rest));
        drawn_make(picture, SCENE_START, false);
        picture->snapshot.now.bar_dbfs[0] = bars[i].dbfs;
        picture->snapshot.now.best_dbfs[0] = THRUM_FLOOR_DBFS;
        drawn_compose(picture, 5, 40);
        assert_int_equal(count_of(picture, "#"), bars[i].whole + (bars[i].rest[0] != 0));
    }
}

static void the_hold_mark_stands_where_the_best_was(void **state)
{
    struct drawn *picture = *state;
    static const struct {
        double dbfs;
        int col;
    } marks[] = {{-100.0, 0}, {-75.0, 10}, {-50.0, 20}, {-1.0, 39}, {0.0, 39}, {5.0, 39}};
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++) {
        drawn_make(picture, SCENE_START, false);
        picture->snapshot.now.best_dbfs[0] = marks[i].dbfs;
        drawn_compose(picture, 5, 40);
        const char *mark = strchr(picture->text, '|');
        assert_non_null(mark);
        assert_int_equal((mark - picture->text) % 41, marks[i].col);
    }
}

static void tags_are_cut_between_characters(void **state)
{
    struct drawn *picture = *state;
    static const char *const tags[] = {"größte-grüne-Äußere-Lücke",
                                       "東側の温室の第七弁",
                                       "a\xCC\x88o\xCC\x88u\xCC\x88",
                                       "\xE2\x82",
                                       "\xC0\xAF",
                                       "\xED\xA0\x80",
                                       "x\tz\x1b[2J",
                                       "\xE2\x80\xAE" /* writes from right to left */};
    for (size_t t = 0; t < sizeof tags / sizeof tags[0]; t++)
        for (int cols = 1; cols <= 140; cols++) {
            drawn_make(picture, SCENE_PICKED, cols % 2);
            snprintf(picture->snapshot.current, sizeof picture->snapshot.current, "%s", tags[t]);
            snprintf(picture->snapshot.wire[6], sizeof picture->snapshot.wire[6], "%s", tags[t]);
            snprintf(picture->facts.input, sizeof picture->facts.input, "%s", tags[t]);
            drawn_compose(picture, cols % 3 == 0 ? 5 : 24, cols);
            assert_well_formed(picture);
        }
}

static void the_tag_being_typed_is_shown(void **state)
{
    struct drawn *picture = *state;
    for (size_t i = 0; i < N_SIZES; i++) {
        drawn_make(picture, SCENE_PICKED, false);
        picture->view.entering = true;
        snprintf(picture->view.entry, sizeof picture->view.entry, "17");
        drawn_compose(picture, sizes[i][0], sizes[i][1]);
        if (sizes[i][0] >= 5 && sizes[i][1] >= 20)
            assert_true(drawn_says(picture, "Go to wire: 17_"));
    }
}

/* --- Large characters -------------------------------------------------------------------------------------- */

static void large_characters_are_as_wide_as_said(void **state)
{
    (void)state;
    static struct thrum_cell cells[20 * 240];
    struct canvas canvas = {.cells = cells, .rows = 20, .cols = 240, .utf8 = false};
    struct area area = {0, 0, 20, 240};
    static const char every[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-.+/?";
    for (const char *c = every; *c; c++)
        for (int scale = 1; scale <= 3; scale++) {
            char text[2] = {*c, 0};
            int widest = 0, lowest = 0;
            canvas_clear(&canvas);
            digits_put(&canvas, area, THRUM_INK_TEXT, text, scale);
            for (int i = 0; i < 20 * 240; i++)
                if (cells[i].glyph[0] == '#') {
                    widest = i % 240 + 1 > widest ? i % 240 + 1 : widest;
                    lowest = i / 240 + 1;
                }
            assert_true(digits_know(text));
            assert_true(widest > 0 && widest <= digits_width(text, scale));
            assert_true(lowest <= DIGIT_ROWS * scale);
        }
    assert_false(digits_know("ü"));
    assert_false(digits_know(""));
}

/* --- Against pictures that were looked at ------------------------------------------------------------------- */

static void assert_golden(const struct drawn *picture, const char *name)
{
    char path[1024];
    static char kept[65536];
    const char *source = getenv("THRUM_SOURCE");
    snprintf(path, sizeof path, "%s/tests/screen/pictures/%s.txt", source ? source : ".", name);
    if (getenv("THRUM_KEEP_PICTURES")) { /* after looking at them */
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        assert_true(fputs(picture->text, out) >= 0);
        assert_int_equal(fclose(out), 0);
    }
    FILE *in = fopen(path, "r");
    if (!in)
        fail_msg("%s is missing", path);
    size_t n = fread(kept, 1, sizeof kept - 1, in);
    fclose(in);
    kept[n] = 0;
    if (strcmp(kept, picture->text) != 0)
        fail_msg("%s has changed:\n%s", name, picture->text);
}

static void pictures_are_as_they_were_looked_at(void **state)
{
    struct drawn *picture = *state;
    static const struct {
        enum scene_name scene;
        int rows, cols;
        bool utf8;
    } kept[] = {
        {SCENE_HOLD, 5, 20, false},      {SCENE_LOST, 5, 20, false},      {SCENE_PICKED, 10, 40, true},
        {SCENE_CLOSE, 15, 60, false},    {SCENE_ENOUGH, 24, 80, true},    {SCENE_ENOUGH, 24, 80, false},
        {SCENE_CLOSE, 40, 120, true},    {SCENE_TAKEN, 30, 100, true},    {SCENE_CHECK_TAG, 5, 20, false},
        {SCENE_CHECK_TAG, 24, 80, true}, {SCENE_UNTRUSTED, 24, 80, true}, {SCENE_FINISHED, 60, 200, true},
    };
    for (size_t i = 0; i < sizeof kept / sizeof kept[0]; i++) {
        char name[64];
        snprintf(name, sizeof name, "%s-%dx%d%s", scene_text(kept[i].scene), kept[i].cols, kept[i].rows,
                 kept[i].utf8 ? "" : "-ascii");
        drawn_make(picture, kept[i].scene, kept[i].utf8);
        picture->snapshot.pick[0].notes &=
            THRUM_NOTE_UNTRUSTED; /* other notes' words belong to another part */
        drawn_compose(picture, kept[i].rows, kept[i].cols);
        assert_golden(picture, name);
    }
}

#define ON_PICTURE(test) cmocka_unit_test_setup_teardown(test, drawn_set_up, drawn_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        ON_PICTURE(every_state_fits_every_size),
        ON_PICTURE(every_size_up_to_the_largest_holds_the_picture),
        ON_PICTURE(the_log_ends_with_its_newest_line),
        ON_PICTURE(the_time_is_whole_or_not_there),
        ON_PICTURE(verdict_and_bar_are_there_from_20x5_on),
        ON_PICTURE(below_20x5_there_is_one_line),
        ON_PICTURE(nothing_stale_is_shown_without_sound),
        ON_PICTURE(whether_it_records_is_said_from_20x5_on),
        ON_PICTURE(what_to_change_is_said_whole_from_80x24_on),
        ON_PICTURE(practice_is_said_from_20x5_on),
        cmocka_unit_test(the_bar_maps_its_ends_exactly),
        ON_PICTURE(the_bar_is_as_long_as_the_level),
        ON_PICTURE(the_hold_mark_stands_where_the_best_was),
        ON_PICTURE(tags_are_cut_between_characters),
        ON_PICTURE(the_tag_being_typed_is_shown),
        cmocka_unit_test(large_characters_are_as_wide_as_said),
        ON_PICTURE(pictures_are_as_they_were_looked_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
