/* Touches marked by hand: a table tag,start_s,end_s. */
#ifndef THRUM_MARKS_FILE_H
#define THRUM_MARKS_FILE_H

#include <stddef.h>

#include "sound/source.h"

/* Reads the table; a first line with names is left out, empty lines and lines that begin with # too. *marks is the
 * caller's, to be freed. CODE_DONE, or CODE_FILE with a message that names the line. */
int marks_read(const char *path, double rate_hz, struct thrum_mark **marks, size_t *n,
               struct thrum_message *message);

/* The labelled marks inside a sound file. CODE_DONE also when there are none. */
int marks_inside(const struct thrum_source *source, struct thrum_mark **marks, size_t *n,
                 struct thrum_message *message);

#endif
