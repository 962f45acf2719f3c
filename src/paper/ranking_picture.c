#include "paper/ranking_picture.h"

#include <math.h>
#include <stdio.h>

#include "paper/pen.h"

/* The picture's columns and rows. */
#define WIDTH       680.0
#define BAR_X       110.0
#define BAR_WIDTH   300.0
#define BAR_HEIGHT  13.0
#define LEVEL_X     470.0 /* right edge of the strengths */
#define INTERVAL_X  585.0
#define CHANCE_X    672.0
#define ROW_HEIGHT  21.0
#define LETTERS     12.0
#define TAG_LETTERS 14.0
#define MARGIN      8.0
#define GAP         8.0
#define TICK_DB     5.0

static const struct pen_words small_left = {.size = LETTERS};
static const struct pen_words small_right = {.size = LETTERS, .side = PEN_RIGHT};
static const struct pen_words small_centre = {.size = LETTERS, .side = PEN_CENTRE};

/* Where a level lies, kept inside the bars' column. */
static double x_of(const struct paper_ranking *ranking, double db)
{
    double share = 1.0 - (ranking->top_db - db) / ranking->span_db;
    return BAR_X + BAR_WIDTH * fmin(fmax(share, 0.0), 1.0);
}

/* The sentences of the picture: one under the other, broken where they must be. */
static double sentence(cairo_t *cairo, double y, const char *words, double size, bool bold)
{
    double height = pen_write(cairo, MARGIN, y, words,
                              (struct pen_words){.size = size, .bold = bold, .width = WIDTH - 2 * MARGIN});
    return height > 0.0 ? y + height + GAP : y;
}

/* What the three parts of a bar mean. */
static double legend(cairo_t *cairo, double y)
{
    static const char *const MEANS[] = {"sure", "likely", "possible"};
    double x = BAR_X;
    for (int i = 0; i < 3; i++) {
        pen_box(cairo, x, y + 3.0, 26.0, 9.0, (enum pen_fill)i);
        pen_write(cairo, x + 32.0, y, MEANS[i], small_left);
        x += 100.0;
    }
    return y + ROW_HEIGHT;
}

static double heads(cairo_t *cairo, double y)
{
    pen_write(cairo, MARGIN, y, "wire", small_left);
    pen_write(cairo, LEVEL_X, y, "dBFS", small_right);
    pen_write(cairo, INTERVAL_X, y, "95 % interval", small_right);
    pen_write(cairo, CHANCE_X, y, "chance", small_right);
    return y;
}

/* Levels over the bars, and a dotted line down through all of them. */
static double scale(cairo_t *cairo, double y, const struct paper_ranking *ranking)
{
    double bottom = y + ROW_HEIGHT * (ranking->n_wires + 1) - 3.0;
    double last = ranking->top_db - ranking->span_db;
    for (double db = floor(ranking->top_db / TICK_DB) * TICK_DB; db >= last; db -= TICK_DB) {
        char text[32];
        snprintf(text, sizeof text, "%.0f", db);
        pen_write(cairo, x_of(ranking, db), y, text, small_centre);
        pen_line(cairo, x_of(ranking, db), y + ROW_HEIGHT - 5.0, x_of(ranking, db), bottom, true);
    }
    return y + ROW_HEIGHT;
}

/* Sure up to the interval's lower end, likely up to the strength, possible up to its upper end. */
static void bar(cairo_t *cairo, double y, const struct paper_ranking *ranking, const struct paper_wire *wire)
{
    double low = x_of(ranking, wire->low_db), at = x_of(ranking, wire->dbfs),
           high = x_of(ranking, wire->high_db);
    pen_box(cairo, BAR_X, y, low - BAR_X, BAR_HEIGHT, PEN_SOLID);
    pen_box(cairo, low, y, at - low, BAR_HEIGHT, PEN_HATCHED);
    pen_box(cairo, at, y, high - at, BAR_HEIGHT, PEN_OPEN);
}

/* Long tags are made smaller until they fit in their column. */
static void tag(cairo_t *cairo, double y, const char *words)
{
    int characters = 0;
    for (const char *at = words; *at; at++)
        characters += ((unsigned char)*at & 0xC0) != 0x80;
    double size = characters > 11 ? TAG_LETTERS * 11.0 / characters : TAG_LETTERS;
    pen_write(cairo, MARGIN, y + (TAG_LETTERS - size) / 2, words,
              (struct pen_words){.size = size, .bold = true});
}

static void row(cairo_t *cairo, double y, const struct paper_ranking *ranking, const struct paper_wire *wire)
{
    char text[64];
    tag(cairo, y, wire->tag);
    if (wire->heard) {
        bar(cairo, y + 2.0, ranking, wire);
        snprintf(text, sizeof text, "%.1f", wire->dbfs);
        pen_write(cairo, LEVEL_X, y, text, small_right);
        snprintf(text, sizeof text, "%.1f to %.1f", wire->low_db, wire->high_db);
        pen_write(cairo, INTERVAL_X, y, text, small_right);
    } else {
        pen_write(cairo, LEVEL_X, y, "no tone", small_right);
    }
    pen_write(cairo, CHANCE_X, y, wire->chance, small_right);
}

static double rows(cairo_t *cairo, double y, const struct paper_ranking *ranking)
{
    if (ranking->n_wires == 0)
        return y;
    y = legend(cairo, y);
    heads(cairo, y);
    y = scale(cairo, y, ranking);
    for (int i = 0; i < ranking->n_wires; i++, y += ROW_HEIGHT)
        row(cairo, y, ranking, &ranking->wire[i]);
    return y + GAP;
}

static double draw(cairo_t *cairo, const void *what)
{
    const struct paper_ranking *ranking = what;
    double y = sentence(cairo, MARGIN, ranking->title, LETTERS, false);
    y = sentence(cairo, y, ranking->verdict, 16.0, true);
    y = rows(cairo, y, ranking);
    y = sentence(cairo, y, ranking->silent, LETTERS, false);
    y = sentence(cairo, y, ranking->excluded, LETTERS, false);
    return sentence(cairo, y, ranking->next, LETTERS, false);
}

enum thrum_status paper_ranking_picture(const struct paper_ranking *ranking, struct paper_text *svg)
{
    return pen_document(WIDTH, draw, ranking, svg);
}
