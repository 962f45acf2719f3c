#include <math.h>
#include <stdio.h>
#include <string.h>

#include "screen/parts.h"

/* The columns of the table and the scale of its drawing. */
struct table {
    int tag_cols;
    int interval_cols; /* of the interval as figures: its ends, or where the drawing would be small, half its width; 0: none */
    int graph_col; /* of the drawn interval; 0 when there is no room */
    int graph_cols;
    double low_db; /* ends of the drawn scale */
    double high_db;
};

#define RANK_COLS     5 /* "> 1  " */
#define LEVEL_COLS    8
#define CHANCE_COLS   9
#define INTERVAL_COLS 17
#define HALF_COLS     8
#define TOUCH_COLS    4
#define GRAPH_GAP     2
#define GRAPH_LEAST   16
#define GRAPH_GOOD    20 /* columns at which an interval can be told from a point across a room */

/* Wires further down than that are shown as being off the drawing: they are no contenders. */
#define GRAPH_MOST_DB 25.0

static const struct thrum_pick *pick_of(const struct scene *scene)
{
    return scene->sender < 0 ? NULL : &scene->snapshot->pick[scene->sender];
}

static bool listed(const struct thrum_wire_rank *rank)
{
    return rank->touches > 0;
}

static int ranked(const struct thrum_pick *pick)
{
    return pick->n_ranked < THRUM_MAX_WIRES ? pick->n_ranked : THRUM_MAX_WIRES;
}

static void set_scale(struct table *table, const struct thrum_pick *pick)
{
    double low = HUGE_VAL, high = -HUGE_VAL;
    for (int i = 0; i < ranked(pick); i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i];
        if (!listed(rank) || !rank->heard || !words_has_level(rank->low_db) ||
            !words_has_level(rank->high_db))
            continue;
        low = fmin(low, rank->low_db);
        high = fmax(high, rank->high_db);
    }
    if (!(low <= high)) {
        low = THRUM_BAR_LOW_DBFS;
        high = THRUM_BAR_HIGH_DBFS;
    }
    table->high_db = 5.0 * ceil(high / 5.0);
    table->low_db = fmin(5.0 * floor(low / 5.0), table->high_db - 10.0);
    if (table->low_db < table->high_db - GRAPH_MOST_DB)
        table->low_db = table->high_db - GRAPH_MOST_DB;
}

/* For figures and drawing together there are so many columns. */
static int interval_cols(int cols)
{
    int graph = cols - TOUCH_COLS - GRAPH_GAP;
    if (graph - INTERVAL_COLS < GRAPH_GOOD && graph - HALF_COLS >= GRAPH_GOOD)
        return HALF_COLS;
    return cols >= INTERVAL_COLS ? INTERVAL_COLS : 0;
}

static struct table lay_out(struct canvas *canvas, const struct scene *scene, int cols)
{
    struct table table = {.tag_cols = 4};
    for (int i = 0; i < scene->snapshot->n_wires && i < THRUM_MAX_WIRES; i++) {
        int width = canvas_width(canvas->utf8, scene->snapshot->wire[i]);
        if (width > table.tag_cols)
            table.tag_cols = width;
    }
    int tag_most = cols >= 60 ? 14 : 6;
    if (table.tag_cols > tag_most)
        table.tag_cols = tag_most;
    int used = RANK_COLS + table.tag_cols + LEVEL_COLS + CHANCE_COLS;
    table.interval_cols = interval_cols(cols - used);
    used += table.interval_cols;
    if (cols >= used + TOUCH_COLS + GRAPH_LEAST) {
        table.graph_col = used + TOUCH_COLS + GRAPH_GAP;
        table.graph_cols = cols - table.graph_col;
    }
    set_scale(&table, pick_of(scene));
    return table;
}

static int graph_column(const struct table *table, double dbfs)
{
    double place = (dbfs - table->low_db) / (table->high_db - table->low_db);
    place = place > 0.0 ? (place < 1.0 ? place : 1.0) : 0.0;
    return table->graph_col + (int)lround(place * (table->graph_cols - 1));
}

static void put_graph(struct canvas *canvas, struct area area, int row, const struct table *table,
                      const struct thrum_wire_rank *rank, enum thrum_ink ink)
{
    if (!rank->heard || !words_has_level(rank->low_db) || !words_has_level(rank->high_db))
        return;
    if (rank->dbfs < table->low_db) {
        canvas_put(canvas, area, row, table->graph_col, ink, "<");
        return;
    }
    int low = graph_column(table, rank->low_db), high = graph_column(table, rank->high_db);
    canvas_fill(canvas, area, row, low, high - low + 1, ink, canvas->utf8 ? "─" : "-");
    if (high > low) {
        canvas_put(canvas, area, row, low, ink, canvas->utf8 ? "├" : "|");
        canvas_put(canvas, area, row, high, ink, canvas->utf8 ? "┤" : "|");
    }
    canvas_put(canvas, area, row, graph_column(table, rank->dbfs), ink, canvas->utf8 ? "●" : "o");
}

static void put_heading(struct canvas *canvas, struct area area, const struct table *table)
{
    struct area column = area;
    canvas_put(canvas, area, 0, RANK_COLS, THRUM_INK_DIM, "wire");
    int end = RANK_COLS + table->tag_cols + LEVEL_COLS;
    column.cols = end < area.cols ? end : area.cols;
    canvas_put_right(canvas, column, 0, THRUM_INK_DIM, "dBFS");
    if (table->interval_cols > 0) {
        column.cols = end += table->interval_cols;
        canvas_put_right(canvas, column, 0, THRUM_INK_DIM,
                         table->interval_cols == HALF_COLS ? "95 %" : "95 % interval");
    }
    column.cols = end += CHANCE_COLS;
    canvas_put_right(canvas, column, 0, THRUM_INK_DIM, "chance");
    if (table->graph_col == 0)
        return;
    char text[32];
    snprintf(text, sizeof text, "%.0f", table->low_db);
    canvas_put(canvas, area, 0, table->graph_col, THRUM_INK_DIM, text);
    snprintf(text, sizeof text, "%.0f", table->high_db);
    canvas_put_right(canvas, area, 0, THRUM_INK_DIM, text);
}

static void put_level(struct canvas *canvas, struct area column, int row, enum thrum_ink ink,
                      const struct thrum_wire_rank *rank)
{
    struct words words = {.text = ""};
    if (rank->heard) {
        words_level(&words, rank->dbfs);
    } else {
        words_add(&words, "<");
        words_level(&words, rank->high_db);
    }
    canvas_put_right(canvas, column, row, ink, words.text);
}

/* Both ends, or how far the farther one is from the level. */
static void put_interval(struct canvas *canvas, struct area column, int row, enum thrum_ink ink,
                         const struct table *table, const struct thrum_wire_rank *rank)
{
    struct words words = {.text = ""};
    if (table->interval_cols == HALF_COLS) {
        if (rank->heard && words_has_level(rank->low_db) && words_has_level(rank->high_db))
            words_add(&words, "%s%.1f", canvas->utf8 ? "±" : "+-",
                      fmax(rank->high_db - rank->dbfs, rank->dbfs - rank->low_db));
    } else if (rank->heard) {
        words_level(&words, rank->low_db);
        words_add(&words, " to ");
        words_level(&words, rank->high_db);
    } else {
        words_add(&words, "not heard");
    }
    canvas_put_right(canvas, column, row, ink, words.text);
}

static enum thrum_ink row_ink(const struct scene *scene, const struct thrum_pick *pick,
                              const struct thrum_wire_rank *rank)
{
    if (words_excluded(scene, rank->wire))
        return THRUM_INK_DIM;
    return pick->outcome == THRUM_PICKED && rank->wire == pick->wire ? THRUM_INK_STRONG : THRUM_INK_TEXT;
}

static void put_row(struct canvas *canvas, struct area area, int row, int place, const struct table *table,
                    const struct scene *scene, const struct thrum_wire_rank *rank)
{
    enum thrum_ink ink = row_ink(scene, pick_of(scene), rank);
    const char *tag = words_tag(scene->snapshot, rank->wire);
    char text[32];
    snprintf(text, sizeof text, "%c%2d", strcmp(tag, scene->snapshot->current) == 0 ? '>' : ' ', place);
    canvas_put(canvas, area, row, 0, ink, text);
    struct area column = area;
    column.col += RANK_COLS;
    column.cols = table->tag_cols;
    canvas_put(canvas, column, row, 0, ink, tag);

    int end = RANK_COLS + table->tag_cols + LEVEL_COLS;
    column = area;
    column.cols = end < area.cols ? end : area.cols;
    put_level(canvas, column, row, ink, rank);
    if (table->interval_cols > 0) {
        column.cols = end += table->interval_cols;
        put_interval(canvas, column, row, ink, table, rank);
    }
    end += CHANCE_COLS;
    if (end <= area.cols) {
        struct words words = {.text = ""};
        if (words_excluded(scene, rank->wire))
            words_add(&words, "not it");
        else
            words_chance(&words, rank->chance);
        column.cols = end;
        canvas_put_right(canvas, column, row, ink, words.text);
    }
    if (table->graph_col == 0)
        return;
    snprintf(text, sizeof text, "%3dx", rank->touches);
    canvas_put(canvas, area, row, end, THRUM_INK_DIM, text);
    put_graph(canvas, area, row, table, rank, ink);
}

static void put_rest(struct canvas *canvas, struct area area, int row, int more, int untouched)
{
    struct words words = {.text = ""};
    words_rest(&words, more, untouched);
    canvas_put(canvas, area, row, RANK_COLS, THRUM_INK_DIM, words.text);
}

void part_ranking(struct canvas *canvas, struct area area, const struct scene *scene)
{
    const struct thrum_pick *pick = pick_of(scene);
    if (!pick || scene->snapshot->n_readings == 0 || area.rows < 1 || area.cols < RANK_COLS + 8)
        return;
    struct table table = lay_out(canvas, scene, area.cols);
    if (area.rows >= 3) {
        put_heading(canvas, area, &table);
        area = area_below(area, 1);
    }
    int touched = 0, row = 0, untouched;
    for (int i = 0; i < ranked(pick); i++)
        touched += listed(&pick->rank[i]);
    untouched = ranked(pick) - touched;
    /* The last row says what did not fit, when there is anything to say. */
    int room = area.rows >= 3 && (touched > area.rows || untouched > 0) ? area.rows - 1 : area.rows;
    for (int i = 0; i < ranked(pick) && row < room; i++) {
        if (!listed(&pick->rank[i]))
            continue;
        put_row(canvas, area, row, row + 1, &table, scene, &pick->rank[i]);
        row++;
    }
    if (row < area.rows)
        put_rest(canvas, area, row, touched - row, untouched);
}
