#include "paper/strips.h"

#include <math.h>
#include <stdio.h>

#define LETTERS  11.0
#define SHORTEST 40.0 /* seconds of one strip */
#define STRIPS   24   /* at most */
#define TICKS    4    /* of the seconds, in one strip */

double strips_length(double total_s)
{
    return fmax(SHORTEST, ceil(total_s / STRIPS / 20.0) * 20.0);
}

double strips_title(cairo_t *cairo, const char *title)
{
    return pen_write(cairo, STRIP_MARGIN, STRIP_MARGIN, title,
                     (struct pen_words){.size = 12.0, .width = STRIPS_WIDTH - 2 * STRIP_MARGIN});
}

double strip_x(const struct strip *strip, double s)
{
    return STRIP_X + STRIP_WIDTH * fmin(fmax((s - strip->from_s) / strip->length_s, 0.0), 1.0);
}

bool strip_shows(const struct strip *strip, const struct paper_span *span)
{
    return span->to_s > strip->from_s && span->from_s < strip->from_s + strip->length_s;
}

static void put_seconds(cairo_t *cairo, const struct strip *strip)
{
    double bottom = strip->y + strip->height;
    char text[32];
    for (int i = 0; i <= TICKS; i++) {
        double s = strip->from_s + strip->length_s * i / TICKS, x = strip_x(strip, s);
        bool last = i == TICKS;
        snprintf(text, sizeof text, last ? "%.0f s" : "%.0f", s);
        pen_line(cairo, x, bottom, x, bottom + 4.0, false);
        pen_write(cairo, last ? x + 8.0 : x, bottom + 4.0, text,
                  (struct pen_words){.size = LETTERS, .side = last ? PEN_RIGHT : PEN_CENTRE});
    }
}

/* A bracket with the tag over it, where there is room: a list beside the picture has them all. */
static void put_span(cairo_t *cairo, const struct strip *strip, const struct paper_span *span, double *free_x)
{
    if (!strip_shows(strip, span))
        return;
    double from = strip_x(strip, span->from_s), to = strip_x(strip, span->to_s), y = strip->y - 4.0;
    pen_line(cairo, from, y, to, y, false);
    pen_line(cairo, from, y, from, y + 4.0, false);
    pen_line(cairo, to, y, to, y + 4.0, false);
    struct pen_words how = {.size = LETTERS, .bold = true, .side = PEN_CENTRE};
    double middle = (from + to) / 2.0, half = pen_width(cairo, span->tag, how) / 2.0;
    if (middle - half < *free_x)
        return;
    pen_write(cairo, middle, y - 16.0, span->tag, how);
    *free_x = middle + half + 4.0;
}

void strip_put_time(cairo_t *cairo, const struct strip *strip, const struct paper_time *time)
{
    double free_x = 0.0;
    put_seconds(cairo, strip);
    for (int i = 0; i < time->n_joints; i++)
        if (time->joint_s[i] > strip->from_s && time->joint_s[i] < strip->from_s + strip->length_s)
            pen_line(cairo, strip_x(strip, time->joint_s[i]), strip->y, strip_x(strip, time->joint_s[i]),
                     strip->y + strip->height, true);
    for (int i = 0; i < time->n_spans; i++)
        put_span(cairo, strip, &time->span[i], &free_x);
}
