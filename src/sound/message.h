/* Filling the one line that tells the user what is wrong and what to do next. */
#ifndef THRUM_SOUND_MESSAGE_H
#define THRUM_SOUND_MESSAGE_H

#include <stddef.h>

#include "sound/source.h"

#if defined(__GNUC__)
#define THRUM_PRINTF(at, first) __attribute__((format(printf, at, first)))
#else
#define THRUM_PRINTF(at, first)
#endif

/* Cut at the end if need be, never in the middle of a UTF-8 character. message may be NULL. */
void message_set(struct thrum_message *message, const char *format, ...) THRUM_PRINTF(2, 3);

/* The same into any array; what is there already is kept and "; " put between when append is not 0. */
void text_set(char *text, size_t size, int append, const char *format, ...) THRUM_PRINTF(4, 5);

/* The input says one rate and delivers another, by the clock; or, when they are the same, that it is so again. */
void message_wrong_rate(struct thrum_message *message, double said_hz, double came_hz);

/* The part of a path that is worth showing: whole when short, else its last component, cut to size. */
void text_path(char *text, size_t size, const char *path);

/* "No such file or directory" for an errno value. */
void text_errno(char *text, size_t size, int number);

#endif
