/* What is told to the person: messages on standard error, checked output on standard output. */
#ifndef THRUM_SAY_H
#define THRUM_SAY_H

#include <stdbool.h>
#include <stdio.h>

#if defined(__GNUC__)
#define SAY_PRINTF(at, first) __attribute__((format(printf, at, first)))
#else
#define SAY_PRINTF(at, first)
#endif

/* The command's name, put before every message; NULL for the bare program. */
void say_command(const char *name);

/* Where messages go; standard error until it is called. NULL: standard error again. */
void say_stream(FILE *stream);
FILE *say_stream_now(void);

/* "thrum rank: w05.wav: ..." and a line end. */
void say(const char *format, ...) SAY_PRINTF(1, 2);

/* "PATH: text", without naming the path again when the text begins with it. Shape of line: [size]. */
void say_about(const char *path, const char *text, char *line, size_t size);

/* As say(), with "Try 'thrum rank --help'." after it; returns CODE_USAGE. */
int say_usage(const char *format, ...) SAY_PRINTF(1, 2);

/* The text and a line end; when wrapped, or on a terminal, broken between words into lines of at most 80 columns. */
void print_sentence(FILE *stream, const char *text, bool wrapped);

/* False once standard output could not be written: there is no point in going on. */
bool output_works(void);

/* Flushes standard output; CODE_OUTPUT, with a message unless the reader just went away, when it does not take all
 * that was printed, else code. */
int output_finish(int code);

#endif
