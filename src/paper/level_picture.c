#include "paper/level_picture.h"

#include <math.h>
#include <stdio.h>

#include "paper/pen.h"

#define WIDTH        680.0
#define PLOT_X       60.0
#define PLOT_WIDTH   604.0
#define PLOT_HEIGHT  80.0
#define STRIP_HEIGHT 130.0 /* with tags above and seconds below */
#define TAGS_HEIGHT  20.0
#define MARGIN       8.0
#define LETTERS      11.0
#define SPAN_DB      60.0
#define TICK_DB      20.0
#define STRIP_S      40.0 /* of one strip, at least */
#define STRIPS       24   /* at most */
#define TICKS        4    /* of the seconds, in one strip */

/* One strip: which time it shows, and where. */
struct strip {
    double from_s, length_s, top_db, y; /* y of the plot's upper edge */
};

static double x_of(const struct strip *strip, double s)
{
    return PLOT_X + PLOT_WIDTH * fmin(fmax((s - strip->from_s) / strip->length_s, 0.0), 1.0);
}

static double y_of(const struct strip *strip, double dbfs)
{
    return strip->y + PLOT_HEIGHT * fmin(fmax((strip->top_db - dbfs) / SPAN_DB, 0.0), 1.0);
}

/* The strongest of all, on the next tick above. */
static double top_of(const struct paper_levels *levels)
{
    double top = -1000.0;
    for (size_t i = 0; i < levels->n_levels; i++)
        top = fmax(top, (double)levels->dbfs[i]);
    for (int i = 0; i < levels->n_spans; i++)
        if (levels->span[i].heard)
            top = fmax(top, levels->span[i].dbfs);
    return ceil(top / (TICK_DB / 2)) * (TICK_DB / 2);
}

/* A whole number of 20 seconds, so that the ticks are whole ones. */
static double strip_length(double total_s)
{
    return fmax(STRIP_S, ceil(total_s / STRIPS / 20.0) * 20.0);
}

static void put_axes(cairo_t *cairo, const struct strip *strip)
{
    char text[32];
    for (double down = 0.0; down <= SPAN_DB; down += TICK_DB) {
        double y = y_of(strip, strip->top_db - down);
        snprintf(text, sizeof text, "%.0f", strip->top_db - down);
        pen_write(cairo, PLOT_X - 6.0, y - 8.0, text, (struct pen_words){.size = LETTERS, .side = PEN_RIGHT});
        pen_line(cairo, PLOT_X, y, PLOT_X + PLOT_WIDTH, y, down < SPAN_DB);
    }
    for (int i = 0; i <= TICKS; i++) {
        double s = strip->from_s + strip->length_s * i / TICKS, x = x_of(strip, s);
        enum pen_side side = i < TICKS ? PEN_CENTRE : PEN_RIGHT;
        snprintf(text, sizeof text, i < TICKS ? "%.0f" : "%.0f s", s);
        pen_line(cairo, x, strip->y + PLOT_HEIGHT, x, strip->y + PLOT_HEIGHT + 4.0, false);
        pen_write(cairo, x + (i < TICKS ? 0.0 : 8.0), strip->y + PLOT_HEIGHT + 4.0, text,
                  (struct pen_words){.size = LETTERS, .side = side});
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
static void put_trace(cairo_t *cairo, const struct strip *strip, const struct paper_levels *levels)
{
    size_t first = (size_t)floor(strip->from_s / levels->step_s);
    size_t end = (size_t)ceil((strip->from_s + strip->length_s) / levels->step_s);
    size_t each = (size_t)fmax(1.0, floor(strip->length_s / levels->step_s / PLOT_WIDTH));
    cairo_new_path(cairo);
    for (size_t i = first; i < end && i < levels->n_levels; i += each) {
        double low, high, x = x_of(strip, ((double)i + 0.5 * (double)each) * levels->step_s);
        if (!range_of(levels, i, i + each, &low, &high)) {
            cairo_new_sub_path(cairo);
            continue;
        }
        cairo_line_to(cairo, x, y_of(strip, low));
        if (high > low)
            cairo_line_to(cairo, x, y_of(strip, high));
    }
    cairo_set_line_width(cairo, 1.0);
    cairo_stroke(cairo);
}

/* A bracket with the tag over it, and a thick line at what was measured. */
static void put_span(cairo_t *cairo, const struct strip *strip, const struct paper_span *span, double *free_x)
{
    if (span->to_s <= strip->from_s || span->from_s >= strip->from_s + strip->length_s)
        return;
    double from = x_of(strip, span->from_s), to = x_of(strip, span->to_s), y = strip->y - 4.0;
    pen_line(cairo, from, y, to, y, false);
    pen_line(cairo, from, y, from, y + 4.0, false);
    pen_line(cairo, to, y, to, y + 4.0, false);
    if (span->heard) {
        cairo_set_line_width(cairo, 3.0);
        cairo_move_to(cairo, from, y_of(strip, span->dbfs));
        cairo_line_to(cairo, to, y_of(strip, span->dbfs));
        cairo_stroke(cairo);
    }
    struct pen_words how = {.size = LETTERS, .bold = true, .side = PEN_CENTRE};
    double middle = (from + to) / 2.0, half = pen_width(cairo, span->tag, how) / 2.0;
    if (middle - half < *free_x)
        return; /* no room: the table has it */
    pen_write(cairo, middle, y - 16.0, span->tag, how);
    *free_x = middle + half + 4.0;
}

static void put_strip(cairo_t *cairo, const struct strip *strip, const struct paper_levels *levels)
{
    double free_x = 0.0;
    put_axes(cairo, strip);
    put_trace(cairo, strip, levels);
    for (int i = 0; i < levels->n_joints; i++)
        if (levels->joint_s[i] > strip->from_s && levels->joint_s[i] < strip->from_s + strip->length_s)
            pen_line(cairo, x_of(strip, levels->joint_s[i]), strip->y, x_of(strip, levels->joint_s[i]),
                     strip->y + PLOT_HEIGHT, true);
    for (int i = 0; i < levels->n_spans; i++)
        put_span(cairo, strip, &levels->span[i], &free_x);
}

static double draw(cairo_t *cairo, const void *what)
{
    const struct paper_levels *levels = what;
    double y = MARGIN, total_s = (double)levels->n_levels * levels->step_s;
    y += pen_write(cairo, MARGIN, y, levels->title,
                   (struct pen_words){.size = 12.0, .width = WIDTH - 2 * MARGIN});
    struct strip strip = {.length_s = strip_length(total_s), .top_db = top_of(levels)};
    for (; strip.from_s < total_s; strip.from_s += strip.length_s, y += STRIP_HEIGHT) {
        strip.y = y + TAGS_HEIGHT + MARGIN;
        put_strip(cairo, &strip, levels);
    }
    return y + MARGIN;
}

enum thrum_status paper_level_picture(const struct paper_levels *levels, struct paper_text *svg)
{
    return pen_document(WIDTH, draw, levels, svg);
}
