#include "sound/message.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* A cut may have split a character: take its first bytes away too. */
static void trim_broken_tail(char *text, size_t size)
{
    size_t length = strlen(text);
    if (length + 1 < size)
        return;
    size_t at = length;
    while (at > 0 && ((unsigned char)text[at - 1] & 0xC0u) == 0x80u)
        at--;
    if (at > 0 && ((unsigned char)text[at - 1] & 0xC0u) == 0xC0u)
        text[at - 1] = '\0';
}

static void put(char *text, size_t size, const char *format, va_list args)
{
    if (vsnprintf(text, size, format, args) < 0)
        text[0] = '\0';
    trim_broken_tail(text, size);
}

void message_set(struct thrum_message *message, const char *format, ...)
{
    if (!message)
        return;
    va_list args;
    va_start(args, format);
    put(message->text, sizeof message->text, format, args);
    va_end(args);
}

void text_set(char *text, size_t size, int append, const char *format, ...)
{
    size_t used = append ? strlen(text) : 0;
    if (used > 0 && used + 3 < size) {
        memcpy(text + used, "; ", 3);
        used += 2;
    }
    va_list args;
    va_start(args, format);
    put(text + used, size - used, format, args);
    va_end(args);
}

void message_wrong_rate(struct thrum_message *message, double said_hz, double came_hz)
{
    double off = said_hz / came_hz - 1.0;
    if (fabs(off) > 0.001) {
        message_set(message,
                    "WRONG RATE: the input says %.0f samples a second and delivers %.0f: frequencies read "
                    "%.1f %% too "
                    "%s; strengths hold. Learn the voice through this input, or set it to %.0f Hz",
                    said_hz, came_hz, 100.0 * fabs(off), off < 0.0 ? "low" : "high", came_hz);
    } else {
        message_set(message, "the input delivers its %.0f samples a second again", said_hz);
    }
}

void text_path(char *text, size_t size, const char *path)
{
    const char *shown = path;
    if (strlen(path) >= size) {
        const char *slash = strrchr(path, '/');
        shown = slash && slash[1] ? slash + 1 : path;
    }
    text_set(text, size, 0, "%s", shown);
}

void text_errno(char *text, size_t size, int number)
{
    if (strerror_r(number, text, size) != 0)
        text_set(text, size, 0, "error %d", number);
}
