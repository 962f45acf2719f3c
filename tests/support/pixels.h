/* An SVG made into pixels by another renderer, rsvg-convert, to be looked at. */
#ifndef THRUM_TEST_PIXELS_H
#define THRUM_TEST_PIXELS_H

#include <cairo.h>
#include <stdbool.h>

#include "paper/text.h"

struct pixels {
    cairo_surface_t *surface;
    int width, height;
};

/* Whether that renderer is here. */
bool pixels_can(void);

/* One pixel for a unit of 1/96 inch. The text is freed. To be destroyed. */
struct pixels pixels_of(struct paper_text *svg);
void pixels_destroy(struct pixels *pixels);

/* 0 black to 255 white. */
int pixels_grey(const struct pixels *pixels, int x, int y);

/* Mean of 0 white to 1 black. */
double pixels_darkness(const struct pixels *pixels, int y, double from_x, double to_x);

/* Every pixel is grey, and those within 4 of the edge are white: nothing is cut off. */
void assert_grey_and_whole(const struct pixels *pixels);

#endif
