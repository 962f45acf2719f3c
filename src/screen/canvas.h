/* A canvas of cells: text is put on it, clipped to an area, cut between characters. Touches no terminal. */
#ifndef THRUM_SCREEN_CANVAS_H
#define THRUM_SCREEN_CANVAS_H

#include <stdbool.h>
#include <stddef.h>

#include "screen/screen.h"

struct canvas {
    struct thrum_cell *cells; /* [rows][cols] */
    int rows;
    int cols;
    bool utf8; /* false: everything beyond ASCII becomes '?' */
};

/* A rectangle of a canvas; may be empty. What is put into it is clipped to it. */
struct area {
    int row;
    int col;
    int rows;
    int cols;
};

/* Fills all with spaces. */
void canvas_clear(struct canvas *canvas);

/* Puts text at a place counted from the area's corner; returns the columns used. Control characters, broken
 * UTF-8 and, without utf8, everything beyond ASCII become '?'. A wide character that would be cut is left out. */
int canvas_put(struct canvas *canvas, struct area area, int row, int col, enum thrum_ink ink,
               const char *text);

/* The same, so that the text ends at the area's right edge; text that is too long loses its end. */
void canvas_put_right(struct canvas *canvas, struct area area, int row, enum thrum_ink ink, const char *text);

/* The same, broken between words over as many rows of the area as it takes; returns the rows used. */
int canvas_put_wrapped(struct canvas *canvas, struct area area, int row, enum thrum_ink ink,
                       const char *text);

/* The rows that takes when there are enough. */
int canvas_rows(bool utf8, const char *text, int cols);

/* Puts one glyph count times, from left to right. */
void canvas_fill(struct canvas *canvas, struct area area, int row, int col, int count, enum thrum_ink ink,
                 const char *glyph);

/* Columns that the text takes. */
int canvas_width(bool utf8, const char *text);

/* The next character of UTF-8 text: its code point and bytes; a broken byte gives U+FFFD and 1. 0 bytes at the end. */
size_t canvas_decode(const char *text, unsigned long *code);

/* Columns that a code point takes: 0 combines with the one before, 2 is wide. */
int canvas_code_width(unsigned long code);

/* Whether it may reach a terminal: no control character, no broken byte, nothing that turns the writing around. */
bool canvas_printable(unsigned long code, bool utf8);

/* Copies text, cut between characters; returns the bytes without the closing zero. */
size_t canvas_copy(char *out, size_t size, const char *text);

/* The area without its first `rows` rows; and its first `rows` rows. */
struct area area_below(struct area area, int rows);
struct area area_top(struct area area, int rows);

#endif
