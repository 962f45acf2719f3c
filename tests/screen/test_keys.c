/* Codes in, key presses out. */
#include "check.h"

#include <string.h>

#include "screen/keys.h"

struct board {
    struct keys keys;
    struct thrum_screen_view view;
    int presses; /* that concern the caller */
    struct thrum_key_press last;
};

static void press(struct board *board, int code)
{
    struct key_effect effect = keys_take(&board->keys, &board->view, code);
    if (effect.press.key != THRUM_KEY_NONE) {
        board->presses++;
        board->last = effect.press;
    }
}

static void type(struct board *board, const char *bytes)
{
    for (const char *c = bytes; *c; c++)
        press(board, (unsigned char)*c);
}

static void each_action_has_one_key(void **state)
{
    (void)state;
    static const struct {
        int code;
        enum thrum_key key;
    } keys[] = {{' ', THRUM_KEY_TAKE},
                {'\r', THRUM_KEY_TAKE},
                {'\n', THRUM_KEY_TAKE},
                {KEY_CODE_ENTER, THRUM_KEY_TAKE},
                {KEY_CODE_PAGE_DOWN, THRUM_KEY_TAKE},
                {'n', THRUM_KEY_NEXT},
                {KEY_CODE_RIGHT, THRUM_KEY_NEXT},
                {'p', THRUM_KEY_PREVIOUS},
                {KEY_CODE_LEFT, THRUM_KEY_PREVIOUS},
                {'r', THRUM_KEY_REPEAT},
                {'w', THRUM_KEY_NEW},
                {'a', THRUM_KEY_ALL_AGAIN},
                {'u', THRUM_KEY_UNDO},
                {0x7F, THRUM_KEY_UNDO},
                {'\b', THRUM_KEY_UNDO},
                {KEY_CODE_BACKSPACE, THRUM_KEY_UNDO},
                {'d', THRUM_KEY_DROP},
                {'x', THRUM_KEY_EXCLUDE},
                {'<', THRUM_KEY_TAG_LOWER},
                {'>', THRUM_KEY_TAG_HIGHER},
                {'i', THRUM_KEY_LOOK},
                {'m', THRUM_KEY_FOLLOW},
                {'f', THRUM_KEY_FINISH},
                {'q', THRUM_KEY_QUIT},
                {'Q', THRUM_KEY_QUIT},
                {3, THRUM_KEY_QUIT},
                {'k', THRUM_KEY_NONE},
                {KEY_CODE_OTHER, THRUM_KEY_NONE},
                {0, THRUM_KEY_NONE},
                {0xC3, THRUM_KEY_NONE}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        struct board board = {.presses = 0};
        press(&board, keys[i].code);
        assert_int_equal(board.last.key, keys[i].key);
    }
}

static void any_key_can_be_the_one_that_takes(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int code;
    } names[] = {{"b", 'b'},
                 {".", '.'},
                 {"n", 'n'},
                 {"F5", KEY_CODE_F1 + 4},
                 {"f12", KEY_CODE_F12},
                 {"PageUp", KEY_CODE_PAGE_UP},
                 {"pagedown", KEY_CODE_PAGE_DOWN},
                 {"enter", '\r'},
                 {"Tab", '\t'},
                 {"home", KEY_CODE_HOME},
                 {"7", '7'}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct board board = {.presses = 0};
        assert_true(thrum_screen_knows_key(names[i].name));
        board.keys.take = keys_named(names[i].name);
        press(&board, names[i].code);
        assert_int_equal(board.last.key, THRUM_KEY_TAKE);
        press(&board, ' ');
        assert_int_equal(board.presses, 2); /* space takes all the same */
        board.presses = 0;
        type(&board, "gb"); /* in a tag it is a letter */
        assert_int_equal(board.presses, 0);
    }
    static const char *const none[] = {"",   "f0",   "f13",  "f1x",      "f",
                                       "ff", "page", "\x1b", "\xC3\xBC", "nosuch"};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        assert_int_equal(thrum_screen_knows_key(none[i]), none[i][0] == 'f' && none[i][1] == 0);
}

static void a_number_and_enter_go_to_that_wire(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "17");
    assert_true(board.view.entering);
    assert_string_equal(board.view.entry, "17");
    assert_int_equal(board.presses, 0);
    type(&board, "\r");
    assert_int_equal(board.presses, 1);
    assert_int_equal(board.last.key, THRUM_KEY_GO_TO);
    assert_string_equal(board.last.tag, "17");
    assert_false(board.view.entering);
    type(&board, "\r"); /* and enter is "take" again */
    assert_int_equal(board.last.key, THRUM_KEY_TAKE);
}

static void any_tag_can_be_typed_and_mended(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "gqü\x7F"
                 "x\r"); /* a whole character is erased, letters are letters */
    assert_int_equal(board.presses, 1);
    assert_string_equal(board.last.tag, "qx");
    type(&board, "g\r"); /* nothing typed: nothing done */
    type(&board, "5\x7F\x7F");
    assert_false(board.view.entering);
    assert_int_equal(board.presses, 1);
    type(&board, "g0123456789012345678901234567890123456789\r");
    assert_int_equal(strlen(board.last.tag), THRUM_WIRE_TAG_SIZE - 1);
}

static void unknown_escape_sequences_do_nothing(void **state)
{
    (void)state;
    static const char *const sequences[] = {"\x1b[1;5n",           "\x1b[201~",  "\x1bOx",
                                            "\x1b]0;quit now\x07", "\x1b[?62;c", "\x1b[<0;3;4M",
                                            "\x1bPqfq\x1b\\",      "\x1b\x1b[n"};
    for (size_t i = 0; i < sizeof sequences / sizeof sequences[0]; i++) {
        struct board board = {.presses = 0};
        type(&board, sequences[i]);
        assert_int_equal(board.presses, 0);
        type(&board, "n");
        assert_int_equal(board.presses, 1);
        assert_int_equal(board.last.key, THRUM_KEY_NEXT);
    }
}

/* What a terminal sends for pasted text is from xterm's ctlseqs document, "bracketed paste mode". */
static void what_is_pasted_is_no_key(void **state)
{
    (void)state;
    static const char *const pastes[] = {"\x1b[200~q\x1b[201~", "\x1b[200~\x1b[201~",
                                         "\x1b[200~\x1b[20\x1b[201~",
                                         "\x1b[200~17\r f\n\x03u\x1b[2~q\x1b[C\x1b\x1b[201~"};
    for (size_t i = 0; i < sizeof pastes / sizeof pastes[0]; i++) {
        struct board board = {.presses = 0};
        type(&board, pastes[i]);
        assert_int_equal(board.presses, 0);
        assert_true(board.view.pasted);
        assert_false(board.view.entering || board.view.help || board.view.held);
        type(&board, "n");
        assert_int_equal(board.presses, 1);
        assert_int_equal(board.last.key, THRUM_KEY_NEXT);
        assert_false(board.view.pasted);
    }
}

/* ...also where ncurses has made named keys of some of it, and until its end has come. */
static void a_paste_lasts_until_its_end(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "\x1b[200~q");
    press(&board, KEY_CODE_RIGHT);
    press(&board, KEY_CODE_ENTER);
    type(&board, "\x1b[201");
    press(&board, KEY_CODE_PAGE_DOWN);
    type(&board, "~q");
    assert_int_equal(board.presses, 0);
    type(&board, "\x1b[201~q");
    assert_int_equal(board.presses, 1);
    assert_int_equal(board.last.key, THRUM_KEY_QUIT);
}

/* Its end lost on the way: over after a second without a byte, not sooner, and the next key counts. So for a sequence without end. */
static void a_paste_without_end_is_over_after_a_silence(void **state)
{
    (void)state;
    static const char *const endless[] = {"\x1b[200~q17\x1b[20", "\x1b]0;title", "\x1b[1;"};
    for (size_t i = 0; i < sizeof endless / sizeof endless[0]; i++) {
        struct board board = {.presses = 0};
        type(&board, endless[i]);
        keys_rest(&board.keys, 0.9);
        type(&board, "1");
        assert_int_equal(board.presses, 0);
        assert_false(board.view.entering);
        keys_rest(&board.keys, 1.1);
        type(&board, "n");
        assert_int_equal(board.presses, 1);
        assert_int_equal(board.last.key, THRUM_KEY_NEXT);
    }
}

/* ESC [ 2 0 ~ is F9 on many terminals, ESC [ 2000 ~ is nothing. */
static void a_sequence_that_is_nearly_a_paste_is_none(void **state)
{
    (void)state;
    static const char *const sequences[] = {"\x1b[20~", "\x1b[2000~", "\x1b[200n", "\x1b[99999999999~"};
    for (size_t i = 0; i < sizeof sequences / sizeof sequences[0]; i++) {
        struct board board = {.presses = 0};
        type(&board, sequences[i]);
        assert_false(board.view.pasted);
        type(&board, "n");
        assert_int_equal(board.last.key, THRUM_KEY_NEXT);
    }
}

static void arrows_are_understood_byte_by_byte(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        enum thrum_key key;
    } arrows[] = {{"\x1b[C", THRUM_KEY_NEXT},
                  {"\x1bOC", THRUM_KEY_NEXT},
                  {"\x1b[D", THRUM_KEY_PREVIOUS},
                  {"\x1b[A", THRUM_KEY_NONE},
                  {"\x1b[1;2C", THRUM_KEY_NONE}};
    for (size_t i = 0; i < sizeof arrows / sizeof arrows[0]; i++) {
        struct board board = {.presses = 0};
        type(&board, arrows[i].bytes);
        assert_int_equal(board.last.key, arrows[i].key);
    }
}

static void escape_alone_leaves_the_next_key_alive(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "4\x1b");
    assert_false(board.view.entering);
    type(&board, " ");
    assert_int_equal(board.presses, 1);
    assert_int_equal(board.last.key, THRUM_KEY_TAKE);
}

static void keys_for_the_picture_stay_here(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "h");
    assert_true(board.view.help);
    type(&board, "l");
    assert_true(board.view.log && !board.view.help);
    type(&board, "lz");
    assert_true(board.view.held && !board.view.log);
    type(&board, "s");
    assert_int_equal(board.view.sender, 1);
    assert_false(board.view.held); /* whoever works on wants to see it */
    assert_int_equal(board.presses, 0);
    type(&board, "hn"); /* an action leaves the help */
    assert_false(board.view.help);
    assert_int_equal(board.presses, 1);
    assert_true(keys_take(&board.keys, &board.view, 'c').next_look);
}

static void after_i_a_digit_takes_an_input_and_no_tag(void **state)
{
    (void)state;
    struct board board = {.presses = 0};
    type(&board, "i");
    assert_true(board.view.inputs);
    type(&board, "i"); /* looks again */
    assert_true(board.view.inputs);
    type(&board, "2");
    assert_int_equal(board.last.key, THRUM_KEY_INPUT);
    assert_string_equal(board.last.tag, "2");
    assert_false(board.view.inputs || board.view.entering);
    type(&board, "3");
    assert_true(board.view.entering); /* a tag again */
    type(&board, "\033i\033");        /* escape leaves the choice */
    assert_false(board.view.inputs);
    type(&board, "in"); /* so does an action */
    assert_false(board.view.inputs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_action_has_one_key),
        cmocka_unit_test(any_key_can_be_the_one_that_takes),
        cmocka_unit_test(a_number_and_enter_go_to_that_wire),
        cmocka_unit_test(any_tag_can_be_typed_and_mended),
        cmocka_unit_test(unknown_escape_sequences_do_nothing),
        cmocka_unit_test(what_is_pasted_is_no_key),
        cmocka_unit_test(a_paste_lasts_until_its_end),
        cmocka_unit_test(a_paste_without_end_is_over_after_a_silence),
        cmocka_unit_test(a_sequence_that_is_nearly_a_paste_is_none),
        cmocka_unit_test(arrows_are_understood_byte_by_byte),
        cmocka_unit_test(escape_alone_leaves_the_next_key_alive),
        cmocka_unit_test(keys_for_the_picture_stay_here),
        cmocka_unit_test(after_i_a_digit_takes_an_input_and_no_tag),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
