/* The picture as a whole: which part goes where, at which size.
 *
 *  one line   below 20x5
 *  small      from 20x5: rows in order of importance, the most important ones as far as there are rows
 *  full       from 60x15: everything; the current wire's tag large when there is room
 *  wide       from 100x22: tag and strength large, verdict on the left, ranking on the right
 */
#include "screen/parts.h"
#include "screen/picture.h"

static void compose_line(struct picture *picture)
{
    struct words words = {.text = ""};
    const struct scene *scene = picture->scene;
    if (scene->facts->input_state == THRUM_INPUT_LOST)
        words_add(&words, "LOST ");
    words_verdict_narrow(&words, scene);
    words_add(&words, " ");
    words_level(&words, scene->dbfs);
    words_add(&words, " %s", words_heard_short(scene));
    canvas_put(picture->canvas, picture->left, 0, 0, words_verdict_ink(scene), words.text);
}

static void compose_all(struct picture *picture)
{
    bool wide = picture->left.rows >= 22 && picture->left.cols >= 100;
    picture->left.col += 1; /* a margin: large characters do not touch the window's edge */
    picture->left.cols -= 2;
    if (wide)
        picture_wide(picture);
    else
        picture_full(picture);
}

static void compose_instead(struct picture *picture)
{
    part_bar(picture->canvas, picture_take(picture, 1), picture->scene, false);
    if (picture->view->help)
        part_help(picture->canvas, picture->left);
    else if (picture->view->inputs)
        part_inputs(picture->canvas, picture->left, picture->scene);
    else
        part_log(picture->canvas, picture->left, picture->scene);
}

void thrum_screen_compose(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                          const struct thrum_screen_view *view, struct thrum_cell *cells, int rows, int cols)
{
    if (rows <= 0 || cols <= 0)
        return;
    struct canvas canvas = {.cells = cells, .rows = rows, .cols = cols, .utf8 = view->utf8};
    struct scene scene = scene_of(snapshot, facts, view->sender);
    if (view->level_held)
        scene.dbfs = view->level_dbfs;
    struct picture picture = {.canvas = &canvas, .scene = &scene, .view = view, .left = {0, 0, rows, cols}};
    canvas_clear(&canvas);
    if (rows < 5 || cols < 20)
        compose_line(&picture);
    else if (view->help || view->log || view->inputs)
        compose_instead(&picture);
    else if (rows < 15 || cols < 60)
        picture_small(&picture);
    else
        compose_all(&picture);
}
