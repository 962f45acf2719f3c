#include "paper/pen.h"

#include <cairo-svg.h>
#include <math.h>
#include <pango/pangocairo.h>

#define HATCH_STEP 4.0
#define THIN       0.8
/* Units of 1/96 inch; an SVG surface counts in points. */
#define POINTS_PER_UNIT 0.75

static void set_words(PangoLayout *layout, const char *words)
{
    struct paper_text good = {.bytes = NULL};
    for (size_t n; *words; words += n > 0 ? n : 1) {
        n = paper_character(words);
        paper_put_bytes(&good, n > 0 ? words : "\xEF\xBF\xBD", n > 0 ? n : 3);
    }
    pango_layout_set_text(layout, good.bytes ? good.bytes : "", -1);
    paper_text_free(&good);
}

/* To be freed with g_object_unref(). */
static PangoLayout *layout_of(cairo_t *cairo, const char *words, struct pen_words how)
{
    PangoLayout *layout = pango_cairo_create_layout(cairo);
    PangoFontDescription *font = pango_font_description_from_string("Sans");
    pango_font_description_set_absolute_size(font, how.size * PANGO_SCALE);
    pango_font_description_set_weight(font, how.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    if (how.width > 0.0) {
        pango_layout_set_width(layout, (int)lround(how.width * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    } else {
        pango_layout_set_single_paragraph_mode(layout, TRUE);
    }
    set_words(layout, words);
    return layout;
}

double pen_write(cairo_t *cairo, double x, double y, const char *words, struct pen_words how)
{
    int width, height;
    if (!*words)
        return 0.0;
    PangoLayout *layout = layout_of(cairo, words, how);
    pango_layout_get_size(layout, &width, &height);
    double left =
        how.side == PEN_LEFT ? 0.0 : (double)width / PANGO_SCALE / (how.side == PEN_RIGHT ? 1.0 : 2.0);
    cairo_move_to(cairo, x - left, y);
    pango_cairo_show_layout(cairo, layout);
    g_object_unref(layout);
    return (double)height / PANGO_SCALE;
}

double pen_width(cairo_t *cairo, const char *words, struct pen_words how)
{
    int width;
    PangoLayout *layout = layout_of(cairo, words, how);
    pango_layout_get_size(layout, &width, NULL);
    g_object_unref(layout);
    return (double)width / PANGO_SCALE;
}

static void hatch(cairo_t *cairo, double x, double y, double width, double height)
{
    cairo_save(cairo);
    cairo_rectangle(cairo, x, y, width, height);
    cairo_clip(cairo);
    for (double at = -height; at < width; at += HATCH_STEP) {
        cairo_move_to(cairo, x + at, y + height);
        cairo_line_to(cairo, x + at + height, y);
    }
    cairo_stroke(cairo);
    cairo_restore(cairo);
}

void pen_box(cairo_t *cairo, double x, double y, double width, double height, enum pen_fill fill)
{
    if (!(width > 0.0))
        return;
    cairo_set_line_width(cairo, THIN);
    if (fill == PEN_HATCHED)
        hatch(cairo, x, y, width, height);
    cairo_rectangle(cairo, x, y, width, height);
    if (fill == PEN_SOLID)
        cairo_fill_preserve(cairo);
    cairo_stroke(cairo);
}

void pen_line(cairo_t *cairo, double x1, double y1, double x2, double y2, bool dotted)
{
    static const double DOTS[] = {1.0, 3.0};
    cairo_set_line_width(cairo, THIN);
    cairo_set_dash(cairo, DOTS, dotted ? 2 : 0, 0.0);
    cairo_move_to(cairo, x1, y1);
    cairo_line_to(cairo, x2, y2);
    cairo_stroke(cairo);
    cairo_set_dash(cairo, NULL, 0, 0.0);
}

static cairo_status_t take(void *closure, const unsigned char *bytes, unsigned int size)
{
    struct paper_text *svg = closure;
    paper_put_bytes(svg, bytes, size);
    return svg->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

/* How high it becomes, drawn on nothing. */
static double measure(pen_draw *draw, const void *what)
{
    cairo_surface_t *nothing = cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, NULL);
    cairo_t *cairo = cairo_create(nothing);
    double height = draw(cairo, what);
    cairo_destroy(cairo);
    cairo_surface_destroy(nothing);
    return ceil(height);
}

enum thrum_status pen_document(double width, pen_draw *draw, const void *what, struct paper_text *svg)
{
    double height = measure(draw, what);
    cairo_surface_t *surface =
        cairo_svg_surface_create_for_stream(take, svg, width * POINTS_PER_UNIT, height * POINTS_PER_UNIT);
    cairo_t *cairo = cairo_create(surface);
    cairo_scale(cairo, POINTS_PER_UNIT, POINTS_PER_UNIT);
    cairo_set_source_rgb(cairo, 1.0, 1.0, 1.0);
    cairo_paint(cairo);
    cairo_set_source_rgb(cairo, 0.0, 0.0, 0.0);
    draw(cairo, what);
    bool good = cairo_status(cairo) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(cairo);
    cairo_surface_finish(surface);
    good = good && cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS && !svg->failed;
    cairo_surface_destroy(surface);
    svg->failed = !good;
    return good ? THRUM_OK : THRUM_ERR_MEM;
}
