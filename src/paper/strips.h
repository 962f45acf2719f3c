/* Pictures of what happened over time: strips one under the other, with seconds below and the touches above. */
#ifndef THRUM_PAPER_STRIPS_H
#define THRUM_PAPER_STRIPS_H

#include <stdbool.h>

#include "paper/pen.h"
#include "paper/time.h"

#define STRIPS_WIDTH 680.0
#define STRIP_X      60.0
#define STRIP_WIDTH  604.0
#define STRIP_ABOVE  28.0 /* for the tags */
#define STRIP_MARGIN 8.0

/* One strip: which time it shows, and where. */
struct strip {
    double from_s, length_s;
    double y, height; /* of what is drawn in it, without tags and seconds */
};

/* How much time one strip shows, so that there are 24 at most: 40 s, or a larger multiple of 20. */
double strips_length(double total_s);

/* The title over all strips; returns its height. */
double strips_title(cairo_t *cairo, const char *title);

/* Where a time lies, kept inside the strip. */
double strip_x(const struct strip *strip, double s);

bool strip_shows(const struct strip *strip, const struct paper_span *span);

/* Seconds below, brackets with tags above, dotted lines between recordings. */
void strip_put_time(cairo_t *cairo, const struct strip *strip, const struct paper_time *time);

#endif
