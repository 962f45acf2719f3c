/* What pages and pictures are written into: escaping, UTF-8, base64. */
#include <stdlib.h>
#include <string.h>

#include "check.h"
#include "paper/text.h"

static void escaped(const char *words, const char *want)
{
    struct paper_text text = {.bytes = NULL};
    paper_put_escaped(&text, words);
    assert_false(text.failed);
    assert_string_equal(text.bytes ? text.bytes : "", want);
    paper_text_free(&text);
}

/* XML 1.0, section 2.4 and 4.6: the five characters that have a name of their own. */
static void text_escapes_what_would_be_markup(void **state)
{
    (void)state;
    escaped("w<b>&\"'</b>", "w&lt;b&gt;&amp;&quot;&#39;&lt;/b&gt;");
    escaped("", "");
    escaped(NULL, "");
    escaped("&amp;", "&amp;amp;");
}

/* The Unicode Standard, table 3-7 (well-formed UTF-8), and XML 1.0, section 2.2 (characters). From memory. */
static void text_keeps_only_characters_that_xml_allows(void **state)
{
    (void)state;
    escaped("Gew\xC3\xA4"
            "chshaus \xE2\x82\xAC \xF0\x9F\x8C\xBF",
            "Gew\xC3\xA4"
            "chshaus \xE2\x82\xAC \xF0\x9F\x8C\xBF");
    escaped("\xF4\x8F\xBF\xBD", "\xF4\x8F\xBF\xBD");
    escaped("a\tb\nc", "a\tb\nc");
    static const char *const WRONG[] = {"\xC1\x81",
                                        "\xE0\x9F\xBF",
                                        "\xF0\x84\x84\x84",
                                        "\x80",
                                        "\xC0\x80",
                                        "\xC3",
                                        "\xE0\x80\x80",
                                        "\xED\xA0\x80",
                                        "\xEF\xBF\xBE",
                                        "\xF4\x90\x80\x80",
                                        "\xF8\x88\x80\x80\x80",
                                        "\xFF",
                                        "\x01",
                                        "\x1B",
                                        "\x7F"};
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        struct paper_text text = {.bytes = NULL};
        assert_int_equal(paper_character(WRONG[i]), 0);
        paper_put_escaped(&text, WRONG[i]);
        assert_true(strspn(text.bytes, "\xEF\xBF\xBD") == text.size && text.size >= 3);
        paper_text_free(&text);
    }
    escaped("a\xC3<", "a\xEF\xBF\xBD&lt;");
}

/* RFC 4648, section 10. */
static void text_puts_base64_as_published(void **state)
{
    static const char *const VECTOR[][2] = {{"", ""},
                                            {"f", "Zg=="},
                                            {"fo", "Zm8="},
                                            {"foo", "Zm9v"},
                                            {"foob", "Zm9vYg=="},
                                            {"fooba", "Zm9vYmE="},
                                            {"foobar", "Zm9vYmFy"}};
    (void)state;
    for (size_t i = 0; i < sizeof VECTOR / sizeof *VECTOR; i++) {
        struct paper_text text = {.bytes = NULL};
        paper_put_base64(&text, VECTOR[i][0], strlen(VECTOR[i][0]));
        assert_string_equal(text.bytes ? text.bytes : "", VECTOR[i][1]);
        paper_text_free(&text);
    }
}

static void text_grows_and_keeps_what_it_has(void **state)
{
    struct paper_text text = {.bytes = NULL};
    (void)state;
    for (int i = 0; i < 5000; i++)
        paper_putf(&text, "%04d,", i);
    assert_int_equal(text.size, 25000);
    assert_memory_equal(text.bytes, "0000,0001,", 10);
    assert_string_equal(text.bytes + 24995, "4999,");
    paper_text_free(&text);
    assert_null(text.bytes);
}

static void text_that_failed_stays_failed(void **state)
{
    struct paper_text text = {.bytes = NULL};
    (void)state;
    paper_put(&text, "whole");
    paper_put_bytes(&text, "x", SIZE_MAX / 2);
    assert_true(text.failed);
    paper_put(&text, " more");
    assert_string_equal(text.bytes, "whole");
    paper_text_free(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_escapes_what_would_be_markup),
        cmocka_unit_test(text_keeps_only_characters_that_xml_allows),
        cmocka_unit_test(text_puts_base64_as_published),
        cmocka_unit_test(text_grows_and_keeps_what_it_has),
        cmocka_unit_test(text_that_failed_stays_failed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
