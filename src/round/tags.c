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
