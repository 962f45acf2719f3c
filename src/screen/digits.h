/* Large characters, to be read from two metres. */
#ifndef THRUM_SCREEN_DIGITS_H
#define THRUM_SCREEN_DIGITS_H

#include "screen/canvas.h"

#define DIGIT_ROWS 5 /* at scale 1 */

/* Whether every character of the text can be drawn large: digits, letters, - . + and space. */
bool digits_know(const char *text);

/* Columns that the text takes at a scale of 1, 2, ...; without the gap after the last character. */
int digits_width(const char *text, int scale);

/* Draws it at the area's top left corner, 5 * scale rows high. Only whole characters are drawn. */
void digits_put(struct canvas *canvas, struct area area, enum thrum_ink ink, const char *text, int scale);

#endif
