/* The journal of marks beside a recording in progress: "<recording>.marks", lines of text, only ever added to.
 *
 *   mark FIRST END LABEL      END is 0 for a point
 *   unmark LABEL              takes back the newest one of that label
 *
 * Frames count from the start of that file. A line without its newline was being written when the end came: it
 * does not count.
 */
#ifndef THRUM_SOUND_MARKS_JOURNAL_H
#define THRUM_SOUND_MARKS_JOURNAL_H

#include <stdbool.h>
#include <stddef.h>

#include "sound/source.h"

/* Adds one line and has it written. */
bool marks_journal_add(const char *recording, const struct thrum_mark *mark);
bool marks_journal_take_back(const char *recording, const char *label);

/* *marks malloc'ed, in order of time. false when there is no journal or no memory. */
bool marks_journal_load(const char *recording, struct thrum_mark **marks, size_t *n_marks);

/* The same lines as text, and back: how a FLAC copy keeps them, behind the first line of its comment. malloc'ed; NULL and
 * false when there is no memory. */
char *marks_to_text(const struct thrum_mark *marks, size_t n);
bool marks_from_text(const char *text, struct thrum_mark **marks, size_t *n_marks);

void marks_journal_remove(const char *recording);

#endif
