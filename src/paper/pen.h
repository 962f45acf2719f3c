/* Drawing for all pictures: words with pango, lines and areas with cairo, a document as SVG. Lengths in units of 1/96 inch. */
#ifndef THRUM_PAPER_PEN_H
#define THRUM_PAPER_PEN_H

#include <cairo.h>

#include "paper/text.h"
#include "thrum/status.h"

enum pen_side { PEN_LEFT, PEN_RIGHT, PEN_CENTRE };

struct pen_words {
    double size; /* of the letters */
    bool bold;
    enum pen_side side; /* of the words, that lies at x */
    double width;       /* broken between words there, from PEN_LEFT on; 0: one line */
};

/* Writes words with their upper edge at y; returns how high they are. 0 for "". What is no UTF-8 becomes U+FFFD. */
double pen_write(cairo_t *cairo, double x, double y, const char *words, struct pen_words how);

/* How wide they would be, in one line. */
double pen_width(cairo_t *cairo, const char *words, struct pen_words how);

/* How an area is filled, so that all kinds can be told apart without colour. */
enum pen_fill { PEN_SOLID, PEN_HATCHED, PEN_OPEN };

/* A box of that fill with a thin outline; nothing when it has no width. */
void pen_box(cairo_t *cairo, double x, double y, double width, double height, enum pen_fill fill);

/* A straight line; dotted for helping lines. */
void pen_line(cairo_t *cairo, double x1, double y1, double x2, double y2, bool dotted);

/* Draws what it is for, and returns how high it is. Called twice: to measure, and to draw. */
typedef double pen_draw(cairo_t *cairo, const void *what);

/* The document of so much width, white behind. THRUM_OK, or THRUM_ERR_MEM and svg is marked as failed. */
enum thrum_status pen_document(double width, pen_draw *draw, const void *what, struct paper_text *svg);

#endif
