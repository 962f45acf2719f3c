#include "commands/say.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

#include "commands/command.h"

static const char *command_name;
static FILE *message_stream;

void say_command(const char *name)
{
    command_name = name;
}

void say_stream(FILE *stream)
{
    message_stream = stream;
}

FILE *say_stream_now(void)
{
    return message_stream ? message_stream : stderr;
}

/* A name from outside must not move the cursor or change the terminal's state. */
static void make_printable(char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7F)
            *text = '?';
}

static void say_list(const char *format, va_list list)
{
    char text[1200];
    vsnprintf(text, sizeof text, format, list);
    make_printable(text);
    fprintf(say_stream_now(), "thrum%s%s: %s\n", command_name ? " " : "", command_name ? command_name : "",
            text);
}

void say(const char *format, ...)
{
    va_list list;
    va_start(list, format);
    say_list(format, list);
    va_end(list);
}

int say_usage(const char *format, ...)
{
    va_list list;
    va_start(list, format);
    say_list(format, list);
    va_end(list);
    fprintf(say_stream_now(), "Try 'thrum%s%s --help'.\n", command_name ? " " : "",
            command_name ? command_name : "");
    return CODE_USAGE;
}

bool output_works(void)
{
    return !ferror(stdout);
}

int output_finish(int code)
{
    errno = 0;
    bool flushed = fflush(stdout) == 0;
    if (flushed && !ferror(stdout))
        return code;
    if (errno != EPIPE && errno != 0)
        say("the answer could not be written: %s", strerror(errno));
    return CODE_OUTPUT;
}
