/* A whole file at once. */
#ifndef THRUM_FILE_WRITE_H
#define THRUM_FILE_WRITE_H

#include <stdbool.h>
#include <stddef.h>

/* Writes it so that the file is either the old one or the whole new one: into a file beside it, which then takes its name. What is no
 * plain file (a terminal, /dev/full) is written directly. False: errno says why. */
bool file_write(const char *path, const char *text, size_t size);

#endif
