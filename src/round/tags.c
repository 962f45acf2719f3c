#include "round/tags.h"

#include <stddef.h>
#include <string.h>

bool thrum_tag_ok(const char *tag)
{
    return tag && tag[0] != '\0' && strlen(tag) < THRUM_WIRE_TAG_SIZE;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Write number behind stem, at least `width` digits. Nothing happens when it does not fit. */
static void put(char *tag, size_t stem, unsigned number, size_t width)
{
    char digits[12];
    size_t n = 0;
    do {
        digits[n++] = (char)('0' + number % 10);
        number /= 10;
    } while (number > 0);
    while (n < width && n < sizeof digits)
        digits[n++] = '0';
    if (stem + n >= THRUM_WIRE_TAG_SIZE)
        return;
    for (size_t i = 0; i < n; i++)
        tag[stem + i] = digits[n - 1 - i];
    tag[stem + n] = '\0';
}

void thrum_tag_move(char *tag, int by)
{
    size_t length = strlen(tag), stem = length;
    unsigned number = 0;
    while (stem > 0 && is_digit(tag[stem - 1]) && length - stem < 8)
        stem--;
    for (size_t i = stem; i < length; i++)
        number = number * 10 + (unsigned)(tag[i] - '0');
    if (stem == length)
        number = 1; /* "red" counts as the first of its kind */
    long moved = (long)number + by;
    if (stem == length && moved <= 1)
        return;
    put(tag, stem, moved < 1 ? 1u : (unsigned)moved, length - stem);
}

static const char DIGITS[] = "0123456789";

/* Up to eight digits: the number; else 0. */
static unsigned number_of(const char *text, size_t length)
{
    unsigned number = 0;
    if (length == 0 || length > 8 || strspn(text, DIGITS) < length)
        return 0;
    for (size_t i = 0; i < length; i++)
        number = number * 10 + (unsigned)(text[i] - '0');
    return number;
}

bool thrum_tag_range(const char *tag, char *first, char *last)
{
    size_t length = strlen(tag), dash = strcspn(tag, "-");
    if (dash == length)
        return false;
    unsigned from = number_of(tag, dash), to = number_of(tag + dash + 1, length - dash - 1);
    if (from == 0 || to <= from)
        return false;
    memcpy(first, tag, dash);
    first[dash] = 0;
    memcpy(last, tag + dash + 1, length - dash);
    return true;
}

void thrum_tag_join(const char *first, const char *last, char *tag)
{
    size_t n = strlen(first), m = strlen(last);
    n = n < THRUM_WIRE_TAG_SIZE - 2 ? n : THRUM_WIRE_TAG_SIZE - 2;
    m = m < THRUM_WIRE_TAG_SIZE - 2 - n ? m : THRUM_WIRE_TAG_SIZE - 2 - n;
    memmove(tag, first, n);
    tag[n] = '-';
    memcpy(tag + n + 1, last, m);
    tag[n + 1 + m] = 0;
}
