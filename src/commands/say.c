#include "commands/say.h"

#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"

#define LINE_COLUMNS 80

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

void print_sentence(FILE *stream, const char *text, bool wrapped)
{
    size_t column = 0;
    wrapped = wrapped || isatty(fileno(stream));
    while (*text) {
        size_t n = strcspn(text, " ");
        bool fits = !wrapped || column + 1 + n <= LINE_COLUMNS;
        if (column > 0 && !fits) {
            fputc('\n', stream);
            column = 0;
        }
        column += (size_t)fprintf(stream, "%s%.*s", column > 0 ? " " : "", (int)n, text);
        text += n + (text[n] == ' ');
    }
    fputc('\n', stream);
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

void say_about(const char *path, const char *text, char *line, size_t size)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    bool named = strncmp(text, path, strlen(path)) == 0 || (*name && strncmp(text, name, strlen(name)) == 0);
    if (named)
        snprintf(line, size, "%s", text);
    else
        snprintf(line, size, "%s: %s", path, text);
}

bool output_works(void)
{
    return !ferror(stdout);
}

/* A pipe whose reader went away: that is no error to complain of. */
static bool reader_is_gone(void)
{
    struct pollfd out = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&out, 1, 0) == 1 && (out.revents & POLLERR) != 0;
}

int output_finish(int code)
{
    errno = 0;
    bool flushed = fflush(stdout) == 0;
    int why = flushed ? 0 : errno;
    if (flushed && !ferror(stdout))
        return code;
    if (why != EPIPE && !reader_is_gone())
        say("the answer could not be written%s%s", why ? ": " : "", why ? strerror(why) : "");
    return CODE_OUTPUT;
}
