#include "paper/level_picture.h"

#include <math.h>
#include <stdio.h>

#include "paper/strips.h"

#define STRIP_HEIGHT 130.0 /* with tags above and seconds below */
#define PLOT_HEIGHT  80.0
#define LETTERS      11.0
#define SPAN_DB      60.0
#define TICK_DB      20.0

static double y_of(const struct strip *strip, double top_db, double dbfs)
{
    return strip->y + strip->height * fmin(fmax((top_db - dbfs) / SPAN_DB, 0.0), 1.0);
}

/* The strongest of all, on the next tick above. */
static double top_of(const struct paper_levels *levels)
{
    double top = -1000.0;
    for (size_t i = 0; i < levels->n_levels; i++)
        top = fmax(top, (double)levels->dbfs[i]);
    for (int i = 0; i < levels->time.n_spans; i++)
        if (levels->time.span[i].heard)
            top = fmax(top, levels->time.span[i].dbfs);
    return ceil(top / (TICK_DB / 2)) * (TICK_DB / 2);
}

static void put_scale(cairo_t *cairo, const struct strip *strip, double top_db)
{
    char text[32];
    for (double down = 0.0; down <= SPAN_DB; down += TICK_DB) {
        double y = y_of(strip, top_db, top_db - down);
        snprintf(text, sizeof text, "%.0f", top_db - down);
        pen_write(cairo, STRIP_X - 6.0, y - 8.0, text,
                  (struct pen_words){.size = LETTERS, .side = PEN_RIGHT});
        pen_line(cairo, STRIP_X, y, STRIP_X + STRIP_WIDTH, y, down < SPAN_DB);
    }
}

/* The lowest and the highest of some levels, NaN left out. False where there is none else. */
static bool range_of(const struct paper_levels *levels, size_t from, size_t end, double *low, double *high)
{
    *low = (double)INFINITY;
    *high = -(double)INFINITY;
    for (size_t i = from; i < end && i < levels->n_levels; i++) {
        *low = fmin(*low, (double)levels->dbfs[i]);
        *high = fmax(*high, (double)levels->dbfs[i]);
    }
    return isfinite(*low);
}

/* All levels of the strip in one line; where there are more of them than columns, the lowest and the highest of each column. */
static void put_trace(cairo_t *cairo, const struct strip *strip, double top_db,
                      const struct paper_levels *levels)
{
    size_t first = (size_t)floor(strip->from_s / levels->step_s);
    size_t end = (size_t)ceil((strip->from_s + strip->length_s) / levels->step_s);
    size_t each = (size_t)fmax(1.0, floor(strip->length_s / levels->step_s / STRIP_WIDTH));
    cairo_new_path(cairo);
    for (size_t i = first; i < end && i < levels->n_levels; i += each) {
        double low, high, x = strip_x(strip, ((double)i + 0.5 * (double)each) * levels->step_s);
        if (!range_of(levels, i, i + each, &low, &high)) {
            cairo_new_sub_path(cairo);
            continue;
        }
        cairo_line_to(cairo, x, y_of(strip, top_db, low));
        if (high > low)
            cairo_line_to(cairo, x, y_of(strip, top_db, high));
    }
    cairo_set_line_width(cairo, 1.0);
    cairo_stroke(cairo);
}

/* A thick line at what was measured. */
static void put_measured(cairo_t *cairo, const struct strip *strip, double top_db,
                         const struct paper_span *span)
{
    if (!span->heard || !strip_shows(strip, span))
        return;
    cairo_set_line_width(cairo, 3.0);
    cairo_move_to(cairo, strip_x(strip, span->from_s), y_of(strip, top_db, span->dbfs));
    cairo_line_to(cairo, strip_x(strip, span->to_s), y_of(strip, top_db, span->dbfs));
    cairo_stroke(cairo);
}

static double draw(cairo_t *cairo, const void *what)
{
    const struct paper_levels *levels = what;
    double total_s = (double)levels->n_levels * levels->step_s, top_db = top_of(levels);
    double y = STRIP_MARGIN + strips_title(cairo, levels->title);
    struct strip strip = {.length_s = strips_length(total_s), .height = PLOT_HEIGHT};
    for (; strip.from_s < total_s; strip.from_s += strip.length_s, y += STRIP_HEIGHT) {
        strip.y = y + STRIP_ABOVE;
        put_scale(cairo, &strip, top_db);
        put_trace(cairo, &strip, top_db, levels);
        for (int i = 0; i < levels->time.n_spans; i++)
            put_measured(cairo, &strip, top_db, &levels->time.span[i]);
        strip_put_time(cairo, &strip, &levels->time);
    }
    return y + STRIP_MARGIN;
}

enum thrum_status paper_level_picture(const struct paper_levels *levels, struct paper_text *svg)
{
    return pen_document(STRIPS_WIDTH, draw, levels, svg);
}
