/* Tags and how one follows another. */
#include "check.h"

#include <string.h>

#include "round/tags.h"

static void expect_move(const char *from, int by, const char *to)
{
    char tag[THRUM_WIRE_TAG_SIZE];
    strcpy(tag, from);
    thrum_tag_move(tag, by);
    assert_string_equal(tag, to);
}

static void numbers_count_up_and_down(void **state)
{
    (void)state;
    expect_move("7", 1, "8");
    expect_move("9", 1, "10");
    expect_move("99", 1, "100");
    expect_move("10", -1, "09");
    expect_move("7", 30, "37");
    expect_move("0", 1, "1");
}

static void leading_zeros_and_stems_stay(void **state)
{
    (void)state;
    expect_move("w07", 1, "w08");
    expect_move("w09", 1, "w10");
    expect_move("w99", 1, "w100");
    expect_move("w10", -1, "w09");
    expect_move("007", -1, "006");
    expect_move("K3-9", 1, "K3-10");
}

static void counting_down_stops_at_one(void **state)
{
    (void)state;
    expect_move("1", -1, "1");
    expect_move("3", -10, "1");
    expect_move("w01", -1, "w01");
}

static void a_tag_without_digits_gets_them(void **state)
{
    (void)state;
    expect_move("red", 1, "red2");
    expect_move("red2", 1, "red3");
    expect_move("red", -1, "red");
    expect_move("rouge-\xc3\xa9", 1,
                "rouge-\xc3\xa9"
                "2"); /* UTF-8 is not taken apart */
}

/* 31 bytes and the closing zero: what would be longer stays as it is, and nothing is written beyond the end. */
static void a_tag_never_outgrows_its_room(void **state)
{
    (void)state;
    struct {
        char tag[THRUM_WIRE_TAG_SIZE];
        char guard[8];
    } box;
    memset(&box, 'G', sizeof box);
    memset(box.tag, 'x', THRUM_WIRE_TAG_SIZE - 1);
    box.tag[THRUM_WIRE_TAG_SIZE - 2] = '9';
    box.tag[THRUM_WIRE_TAG_SIZE - 1] = '\0';
    thrum_tag_move(box.tag, 1);
    assert_int_equal(strlen(box.tag), THRUM_WIRE_TAG_SIZE - 1);
    assert_int_equal(box.tag[THRUM_WIRE_TAG_SIZE - 2], '9');
    for (int i = 0; i < 8; i++)
        assert_int_equal(box.guard[i], 'G');
    memset(box.tag, '9', THRUM_WIRE_TAG_SIZE - 1);
    thrum_tag_move(box.tag, 1);
    assert_true(strlen(box.tag) < THRUM_WIRE_TAG_SIZE);
    assert_int_equal(box.guard[0], 'G');
}

/* Any row of moves keeps a tag a tag. */
static void moved_tags_stay_tags(void **state)
{
    (void)state;
    const char *starts[] = {"1", "w01", "red", "99999999", "1234567890123456789012345678901", "-"};
    for (int i = 0; i < 6; i++) {
        char tag[THRUM_WIRE_TAG_SIZE];
        strcpy(tag, starts[i]);
        for (int k = 0; k < 300; k++) {
            thrum_tag_move(tag, k % 3 == 2 ? -1 : 1);
            assert_true(thrum_tag_ok(tag));
        }
    }
}

static void empty_missing_and_long_tags_are_none(void **state)
{
    (void)state;
    char tag[THRUM_WIRE_TAG_SIZE + 1];
    memset(tag, 'x', sizeof tag);
    tag[THRUM_WIRE_TAG_SIZE] = '\0';
    assert_false(thrum_tag_ok(NULL));
    assert_false(thrum_tag_ok(""));
    assert_false(thrum_tag_ok(tag));
    tag[THRUM_WIRE_TAG_SIZE - 1] = '\0';
    assert_true(thrum_tag_ok(tag));
    assert_true(thrum_tag_ok("1"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_count_up_and_down),
        cmocka_unit_test(leading_zeros_and_stems_stay),
        cmocka_unit_test(counting_down_stops_at_one),
        cmocka_unit_test(a_tag_without_digits_gets_them),
        cmocka_unit_test(a_tag_never_outgrows_its_room),
        cmocka_unit_test(moved_tags_stay_tags),
        cmocka_unit_test(empty_missing_and_long_tags_are_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
