/* Every status has words of its own. */
#include "check.h"

#include <ctype.h>
#include <string.h>

#include "thrum/status.h"

static const enum thrum_status all[] = {
    THRUM_OK,         THRUM_ERR_ARG,  THRUM_ERR_MEM,         THRUM_ERR_DEVICE,    THRUM_ERR_FILE,
    THRUM_ERR_FORMAT, THRUM_ERR_FULL, THRUM_ERR_UNSUPPORTED, THRUM_ERR_NOT_FOUND,
};
enum { N_ALL = sizeof all / sizeof *all };

static void every_status_has_its_own_phrase(void **state)
{
    (void)state;
    for (int i = 0; i < N_ALL; i++)
        for (int j = 0; j < i; j++)
            assert_string_not_equal(thrum_status_text(all[i]), thrum_status_text(all[j]));
}

static void a_phrase_is_one_line_without_a_full_stop(void **state)
{
    (void)state;
    for (int i = 0; i < N_ALL; i++) {
        const char *text = thrum_status_text(all[i]);
        size_t n = strlen(text);
        assert_true(n > 0 && n < 60);
        assert_true(text[n - 1] != '.');
        for (size_t k = 0; k < n; k++)
            assert_true(isprint((unsigned char)text[k]));
    }
}

static void any_other_number_is_unknown(void **state)
{
    (void)state;
    assert_string_equal(thrum_status_text((enum thrum_status)1), "unknown status");
    assert_string_equal(thrum_status_text((enum thrum_status) - 9), "unknown status");
    for (int i = 0; i < N_ALL; i++)
        assert_string_not_equal(thrum_status_text(all[i]), "unknown status");
}

/* What a shell script would test: zero is success, everything else is below. */
static void only_success_is_zero(void **state)
{
    (void)state;
    assert_int_equal(THRUM_OK, 0);
    for (int i = 1; i < N_ALL; i++)
        assert_true((int)all[i] < 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_status_has_its_own_phrase),
        cmocka_unit_test(a_phrase_is_one_line_without_a_full_stop),
        cmocka_unit_test(any_other_number_is_unknown),
        cmocka_unit_test(only_success_is_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
