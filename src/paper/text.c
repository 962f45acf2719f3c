#include "paper/text.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char REPLACEMENT[] = "\xEF\xBF\xBD"; /* U+FFFD */

void paper_text_free(struct paper_text *text)
{
    free(text->bytes);
    *text = (struct paper_text){.bytes = NULL};
}

/* Room for so many bytes more, and a 0. */
static bool make_room(struct paper_text *text, size_t more)
{
    if (text->failed || more > SIZE_MAX / 4 || text->size > SIZE_MAX / 4) {
        text->failed = true;
        return false;
    }
    size_t need = text->size + more + 1;
    if (need <= text->room)
        return true;
    size_t room = need + need / 2 + 256;
    char *bytes = realloc(text->bytes, room);
    if (!bytes) {
        text->failed = true;
        return false;
    }
    text->bytes = bytes;
    text->room = room;
    return true;
}

void paper_put_bytes(struct paper_text *text, const void *bytes, size_t size)
{
    if (!make_room(text, size))
        return;
    if (size > 0)
        memcpy(text->bytes + text->size, bytes, size);
    text->size += size;
    text->bytes[text->size] = 0;
}

void paper_put(struct paper_text *text, const char *bytes)
{
    paper_put_bytes(text, bytes, strlen(bytes));
}

void paper_putf(struct paper_text *text, const char *format, ...)
{
    va_list list, again;
    va_start(list, format);
    va_copy(again, list);
    int size = vsnprintf(NULL, 0, format, list);
    if (size < 0)
        text->failed = true;
    else if (make_room(text, (size_t)size)) {
        vsnprintf(text->bytes + text->size, (size_t)size + 1, format, again);
        text->size += (size_t)size;
    }
    va_end(again);
    va_end(list);
}

/* The number of a character of n bytes, whose lead byte is good; 0 when a byte that should follow does not. */
static uint32_t decode(const unsigned char *bytes, size_t n)
{
    static const unsigned char LEAD[] = {0, 0x7F, 0x1F, 0x0F, 0x07};
    uint32_t number = bytes[0] & LEAD[n];
    for (size_t i = 1; i < n; i++) {
        if ((bytes[i] & 0xC0) != 0x80)
            return 0;
        number = number << 6 | (bytes[i] & 0x3Fu);
    }
    return number;
}

size_t paper_character(const char *bytes)
{
    static const uint32_t LEAST[] = {0, 1, 0x80, 0x800, 0x10000};
    const unsigned char *b = (const unsigned char *)bytes;
    size_t n = b[0] < 0x80 ? 1 : b[0] < 0xC0 ? 0 : b[0] < 0xE0 ? 2 : b[0] < 0xF0 ? 3 : b[0] < 0xF8 ? 4 : 0;
    uint32_t number = n > 0 ? decode(b, n) : 0;
    bool control = number < 0x20 && number != '\t' && number != '\n' && number != '\r';
    if (n == 0 || number < LEAST[n] || control || number == 0x7F || (number >= 0xD800 && number <= 0xDFFF) ||
        number == 0xFFFE || number == 0xFFFF || number > 0x10FFFF)
        return 0;
    return n;
}

void paper_put_escaped(struct paper_text *text, const char *words)
{
    while (words && *words) {
        size_t n = paper_character(words);
        switch (*words) {
        case '&':
            paper_put(text, "&amp;");
            break;
        case '<':
            paper_put(text, "&lt;");
            break;
        case '>':
            paper_put(text, "&gt;");
            break;
        case '"':
            paper_put(text, "&quot;");
            break;
        case '\'':
            paper_put(text, "&#39;");
            break;
        default:
            paper_put_bytes(text, n > 0 ? words : REPLACEMENT, n > 0 ? n : sizeof REPLACEMENT - 1);
        }
        words += n > 0 ? n : 1;
    }
}

void paper_put_escapedf(struct paper_text *text, const char *format, ...)
{
    char words[1001];
    va_list list;
    va_start(list, format);
    vsnprintf(words, sizeof words, format, list);
    va_end(list);
    paper_put_escaped(text, words);
}

void paper_put_base64(struct paper_text *text, const void *bytes, size_t size)
{
    static const char DIGIT[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const unsigned char *b = bytes;
    for (size_t i = 0; i < size; i += 3) {
        size_t n = size - i < 3 ? size - i : 3;
        uint32_t three =
            (uint32_t)b[i] << 16 | (n > 1 ? (uint32_t)b[i + 1] << 8 : 0) | (n > 2 ? b[i + 2] : 0);
        char four[4] = {DIGIT[three >> 18], DIGIT[three >> 12 & 63], n > 1 ? DIGIT[three >> 6 & 63] : '=',
                        n > 2 ? DIGIT[three & 63] : '='};
        paper_put_bytes(text, four, sizeof four);
    }
}
