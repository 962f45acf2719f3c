#include <math.h>
#include <stdio.h>

#include "screen/parts.h"

double thrum_screen_bar(double dbfs)
{
    if (!(dbfs > THRUM_BAR_LOW_DBFS))
        return 0.0;
    if (dbfs >= THRUM_BAR_HIGH_DBFS)
        return 1.0;
    return (dbfs - THRUM_BAR_LOW_DBFS) / (THRUM_BAR_HIGH_DBFS - THRUM_BAR_LOW_DBFS);
}

/* The widest spacing of marks that leaves room for their figures. */
static double mark_step_db(int cols)
{
    if (cols >= 110)
        return 10.0;
    return cols >= 50 ? 20.0 : 50.0;
}

static int column_of(double dbfs, int cols)
{
    int col = (int)floor(thrum_screen_bar(dbfs) * cols);
    return col < cols ? col : cols - 1;
}

static void put_scale(struct canvas *canvas, struct area area)
{
    double step = mark_step_db(area.cols);
    for (double dbfs = THRUM_BAR_LOW_DBFS; dbfs < THRUM_BAR_HIGH_DBFS; dbfs += step) {
        char text[16];
        snprintf(text, sizeof text, "%.0f", dbfs);
        canvas_put(canvas, area, 0, column_of(dbfs, area.cols), THRUM_INK_DIM, text);
    }
    canvas_put_right(canvas, area, 0, THRUM_INK_DIM, "0 dBFS");
}

/* Eighths of a column, from the left: one to seven. */
static const char *const eighth[8] = {"", "▏", "▎", "▍", "▌", "▋", "▊", "▉"};

static void put_filled(struct canvas *canvas, struct area area, int row, double place)
{
    int eighths = (int)floor(place * area.cols * 8.0 + 1e-9);
    int whole = eighths / 8;
    if (!canvas->utf8) {
        canvas_fill(canvas, area, row, 0, (eighths + 4) / 8, THRUM_INK_BAR, "#");
        return;
    }
    canvas_fill(canvas, area, row, 0, whole, THRUM_INK_BAR, "█");
    if (eighths % 8 && whole < area.cols)
        canvas_put(canvas, area, row, whole, THRUM_INK_BAR, eighth[eighths % 8]);
}

static void put_ground(struct canvas *canvas, struct area area, int row)
{
    const char *dot = canvas->utf8 ? "·" : ".";
    double step = mark_step_db(area.cols);
    if (area.rows == 1) {
        canvas_fill(canvas, area, row, 0, area.cols, THRUM_INK_DIM, dot);
        return;
    }
    for (double dbfs = THRUM_BAR_LOW_DBFS; dbfs < THRUM_BAR_HIGH_DBFS; dbfs += step)
        canvas_put(canvas, area, row, column_of(dbfs, area.cols), THRUM_INK_DIM, dot);
    canvas_put(canvas, area, row, area.cols - 1, THRUM_INK_DIM, dot);
}

void part_bar(struct canvas *canvas, struct area area, const struct scene *scene, bool with_scale)
{
    if (with_scale && area.rows >= 2) {
        put_scale(canvas, area_top(area, 1));
        area = area_below(area, 1);
    }
    double now = THRUM_FLOOR_DBFS, best = THRUM_FLOOR_DBFS;
    if (scene->sender >= 0) {
        now = words_no_sound(scene) ? THRUM_FLOOR_DBFS : scene->snapshot->now.bar_dbfs[scene->sender];
        best = scene->snapshot->now.best_dbfs[scene->sender];
    }
    for (int row = 0; row < area.rows; row++) {
        put_ground(canvas, area, row);
        put_filled(canvas, area, row, thrum_screen_bar(now));
        if (words_has_level(best) && area.cols > 0)
            canvas_put(canvas, area, row, column_of(best, area.cols), THRUM_INK_MARK,
                       canvas->utf8 ? "┃" : "|");
    }
}
