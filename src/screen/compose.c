/* The picture as a whole: which part goes where, at which size.
 *
 *  one line   below 20x5
 *  small      from 20x5: rows in order of importance, the most important ones as far as there are rows
 *  full       from 60x15: everything; the current wire's tag large when there is room
 *  wide       from 100x22: tag and strength large, verdict on the left, ranking on the right
 */
#include "screen/digits.h"
#include "screen/parts.h"

struct picture {
    struct canvas *canvas;
    const struct scene *scene;
    const struct thrum_screen_view *view;
    struct area left;   /* what has not been drawn yet; parts take rows from its top */
    bool says_practice; /* the head does, when this is practice */
};

static struct area take_rows(struct picture *picture, int rows)
{
    struct area taken = area_top(picture->left, rows);
    picture->left = area_below(picture->left, rows);
    return taken;
}

static struct area take_last_row(struct picture *picture)
{
    struct area taken = area_below(picture->left, picture->left.rows - 1);
    picture->left.rows -= taken.rows;
    return taken;
}

static int width_of(const struct picture *picture, const char *text)
{
    return canvas_width(picture->canvas->utf8, text);
}

/* The sentence when it fits, else the few words. */
static void put_fitting(const struct picture *picture, struct area area, enum thrum_ink ink,
                        const struct words *full, const struct words *narrow)
{
    const struct words *words = width_of(picture, full->text) <= area.cols ? full : narrow;
    canvas_put(picture->canvas, area, 0, 0, ink, words->text);
}

static void message_of(struct words *words, enum thrum_ink *ink, const struct picture *picture)
{
    const struct thrum_screen_facts *facts = picture->scene->facts;
    *ink = facts->input_state == THRUM_INPUT_LOST || facts->record == THRUM_RECORD_FAILED ? THRUM_INK_ALARM
                                                                                          : THRUM_INK_WARN;
    if (picture->view->held)
        words_add(words, "PICTURE HELD, z goes on. ");
    if (facts->message[0])
        words_add(words, "%s", facts->message);
    else if (facts->input_state == THRUM_INPUT_LOST)
        words_add(words, "INPUT LOST - check its plug");
}

/* --- One line -------------------------------------------------------------------------------------------- */

static void compose_line(struct picture *picture)
{
    struct words words = {.text = ""};
    const struct scene *scene = picture->scene;
    if (scene->facts->input_state == THRUM_INPUT_LOST)
        words_add(&words, "LOST ");
    words_verdict_narrow(&words, scene);
    words_add(&words, " ");
    words_level(&words, words_shown_dbfs(scene));
    words_add(&words, " %s", words_heard_short(scene));
    canvas_put(picture->canvas, picture->left, 0, 0, words_verdict_ink(scene), words.text);
}

/* --- Small ----------------------------------------------------------------------------------------------- */

/* Rows of the small picture, from top to bottom. */
enum small_row {
    SMALL_HEAD,
    SMALL_NOW,
    SMALL_SCALE,
    SMALL_BAR,
    SMALL_MESSAGE,
    SMALL_TOUCH,
    SMALL_HEARD,
    SMALL_HUM,
    SMALL_FAULTS,
    SMALL_VERDICT,
    SMALL_NEXT,
    SMALL_RANKING, /* all rows that are left over */
    SMALL_KEYS,
    SMALL_ROWS
};

static const enum small_row importance[] = {
    SMALL_VERDICT, SMALL_BAR,    SMALL_NOW,     SMALL_MESSAGE, SMALL_TOUCH, SMALL_NEXT, SMALL_HEAD,
    SMALL_HEARD,   SMALL_FAULTS, SMALL_RANKING, SMALL_SCALE,   SMALL_HUM,   SMALL_KEYS,
};

static void put_now(const struct picture *picture, struct area area)
{
    struct words left = {.text = ""}, level = {.text = ""};
    words_add(&left, "%s ", picture->scene->snapshot->current);
    int used = canvas_put(picture->canvas, area, 0, 0, THRUM_INK_STRONG, left.text);
    used = used < area.cols - 15 ? used : area.cols - 15;
    canvas_put(picture->canvas, area, 0, used, words_heard_ink(picture->scene),
               words_heard_short(picture->scene));
    words_level(&level, words_shown_dbfs(picture->scene));
    canvas_put_right(picture->canvas, area, 0, THRUM_INK_STRONG, level.text);
}

static void put_touch(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    enum thrum_ink ink = picture->scene->snapshot->enough ? THRUM_INK_GOOD : THRUM_INK_TEXT;
    if (picture->view->entering) {
        part_keys(picture->canvas, area, picture->scene, picture->view);
        return;
    }
    words_touch(&full, picture->scene);
    words_touch_narrow(&narrow, picture->scene);
    put_fitting(picture, area, ink, &full, &narrow);
    int used = width_of(picture, width_of(picture, full.text) <= area.cols ? full.text : narrow.text);
    if (picture->scene->facts->practice && !picture->says_practice && used + 9 <= area.cols)
        canvas_put_right(picture->canvas, area, 0, THRUM_INK_STRONG, "PRACTICE");
}

static void put_heard(const struct picture *picture, struct area area)
{
    int used = canvas_put(picture->canvas, area, 0, 0, THRUM_INK_TEXT, "Heard: ");
    canvas_put(picture->canvas, area, 0, used, words_heard_ink(picture->scene), words_heard(picture->scene));
}

static void put_verdict(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    words_verdict(&full, picture->scene);
    words_verdict_narrow(&narrow, picture->scene);
    put_fitting(picture, area, words_verdict_ink(picture->scene), &full, &narrow);
}

static void put_next(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    words_next(&full, picture->scene);
    words_next_narrow(&narrow, picture->scene);
    put_fitting(picture, area, THRUM_INK_TEXT, &full, &narrow);
}

static void put_words(const struct picture *picture, struct area area, enum small_row row)
{
    struct words words = {.text = ""};
    enum thrum_ink ink = THRUM_INK_TEXT;
    if (row == SMALL_MESSAGE)
        message_of(&words, &ink, picture);
    else if (row == SMALL_HUM)
        words_hum(&words, picture->scene);
    else
        words_faults(&words, picture->scene);
    canvas_put(picture->canvas, area, 0, 0, row == SMALL_FAULTS ? THRUM_INK_WARN : ink, words.text);
}

static bool has_something_to_say(const struct picture *picture, enum small_row row)
{
    struct words words = {.text = ""};
    enum thrum_ink ink;
    if (row == SMALL_MESSAGE)
        message_of(&words, &ink, picture);
    else if (row == SMALL_FAULTS)
        words_faults(&words, picture->scene);
    else
        return true;
    return words.text[0] != 0;
}

static void put_small_row(const struct picture *picture, struct area area, enum small_row row)
{
    switch (row) {
    case SMALL_HEAD:
        part_head(picture->canvas, area, picture->scene);
        break;
    case SMALL_NOW:
        put_now(picture, area);
        break;
    case SMALL_BAR:
        part_bar(picture->canvas, area, picture->scene, area.rows > 1);
        break;
    case SMALL_TOUCH:
        put_touch(picture, area);
        break;
    case SMALL_HEARD:
        put_heard(picture, area);
        break;
    case SMALL_VERDICT:
        put_verdict(picture, area);
        break;
    case SMALL_NEXT:
        put_next(picture, area);
        break;
    case SMALL_RANKING:
        part_ranking(picture->canvas, area, picture->scene);
        break;
    case SMALL_KEYS:
        part_keys(picture->canvas, area, picture->scene, picture->view);
        break;
    case SMALL_MESSAGE:
    case SMALL_HUM:
    case SMALL_FAULTS:
        put_words(picture, area, row);
        break;
    case SMALL_SCALE: /* drawn with the bar */
    case SMALL_ROWS:
        break;
    }
}

static void compose_small(struct picture *picture)
{
    int rows_of[SMALL_ROWS] = {0};
    int room = picture->left.rows;
    for (size_t i = 0; i < sizeof importance / sizeof importance[0] && room > 0; i++) {
        enum small_row row = importance[i];
        int wanted = row == SMALL_RANKING ? 2 : 1;
        if (!has_something_to_say(picture, row))
            continue;
        rows_of[row] = wanted < room ? wanted : room;
        room -= rows_of[row];
    }
    picture->says_practice =
        rows_of[SMALL_HEAD] > 0 && part_head_says_practice(picture->canvas, picture->left, picture->scene);
    rows_of[SMALL_RANKING] += room;
    rows_of[SMALL_BAR] += rows_of[SMALL_SCALE];
    rows_of[SMALL_SCALE] = 0;
    for (int row = 0; row < SMALL_ROWS; row++)
        if (rows_of[row] > 0)
            put_small_row(picture, take_rows(picture, rows_of[row]), (enum small_row)row);
}

/* --- Full and wide --------------------------------------------------------------------------------------- */

/* Largest scale, from `scale` down, at which the text fits; 0 when it cannot be drawn large. */
static int scale_that_fits(const char *text, int scale, int cols)
{
    while (scale > 0 && (!digits_know(text) || digits_width(text, scale) > cols))
        scale--;
    return scale;
}

static void put_wire(const struct picture *picture, struct area area)
{
    const struct scene *scene = picture->scene;
    struct words words = {.text = ""};
    int touches = 0;
    for (int i = 0; i < scene->snapshot->n_readings && i < THRUM_MAX_READINGS; i++) {
        const char *a = scene->snapshot->readings[i].wire, *b = scene->snapshot->current;
        while (*a && *a == *b)
            a++, b++;
        touches += *a == *b;
    }
    words_add(&words, "Wire %s", scene->snapshot->current);
    if (touches > 0)
        words_add(&words, touches == 1 ? ", touched once" : ", touched %d times", touches);
    if (scene->snapshot->n_senders > 1 && scene->sender >= 0)
        words_add(&words, "   sender %s (s next)", scene->snapshot->sender[scene->sender].name);
    canvas_put(picture->canvas, area, 0, 0, THRUM_INK_STRONG, words.text);
}

static void put_block(struct picture *picture, struct area area)
{
    struct words words = {.text = ""};
    put_wire(picture, area);
    put_heard(picture, area_below(area, 1));
    put_touch(picture, area_below(area, 2));
    words_hum(&words, picture->scene);
    canvas_put(picture->canvas, area_below(area, 3), 0, 0, THRUM_INK_TEXT, words.text);
}

/* Rows that are there only when there is something to say. At most `most` of them. */
static void put_optional(struct picture *picture, int most)
{
    struct words message = {.text = ""}, faults = {.text = ""}, others = {.text = ""};
    enum thrum_ink ink;
    message_of(&message, &ink, picture);
    words_faults(&faults, picture->scene);
    words_other_senders(&others, picture->scene);
    const struct {
        const char *text;
        enum thrum_ink ink;
    } row[] = {{message.text, ink}, {faults.text, THRUM_INK_WARN}, {others.text, THRUM_INK_TEXT}};
    for (size_t i = 0; i < sizeof row / sizeof row[0] && most > 0; i++) {
        if (!row[i].text[0])
            continue;
        struct area area = area_top(picture->left, most > 1 ? 2 : 1);
        int used = canvas_put_wrapped(picture->canvas, area, 0, row[i].ink, row[i].text);
        take_rows(picture, used);
        most -= used;
    }
}

static void put_top(struct picture *picture, int bar_rows)
{
    picture->says_practice = true;
    part_head(picture->canvas, take_rows(picture, 1), picture->scene);
    part_bar(picture->canvas, take_rows(picture, bar_rows + 1), picture->scene, true);
    part_numbers(picture->canvas, take_rows(picture, 1), picture->scene);
}

static void compose_full(struct picture *picture)
{
    int rows = picture->left.rows, cols = picture->left.cols;
    bool airy = rows >= 22;
    const char *tag = picture->scene->snapshot->current;
    int scale = rows >= 18 ? scale_that_fits(tag, rows >= 40 ? 2 : 1, cols - 50) : 0;
    part_keys(picture->canvas, take_last_row(picture), picture->scene, picture->view);
    put_top(picture, rows < 18 ? 1 : rows < 30 ? 3 : 5);
    take_rows(picture, airy);
    struct area block = take_rows(picture, scale > 0 ? DIGIT_ROWS * scale : 4);
    if (scale > 0) {
        int width = digits_width(tag, scale) + 3;
        digits_put(picture->canvas, block, THRUM_INK_STRONG, tag, scale);
        block.col += width;
        block.cols -= width;
    }
    put_block(picture, block);
    take_rows(picture, airy);
    put_optional(picture, picture->left.rows > 5 ? picture->left.rows - 5 : picture->left.rows - 4);
    put_verdict(picture, take_rows(picture, 1));
    put_next(picture, take_rows(picture, 1));
    take_rows(picture, rows >= 24);
    part_ranking(picture->canvas, picture->left, picture->scene);
}

/* Tag and level, both large, side by side over the whole width; the level at the right edge. */
static void put_large(struct picture *picture, int scale)
{
    const char *tag = picture->scene->snapshot->current;
    struct words level = {.text = ""};
    words_level(&level, words_shown_dbfs(picture->scene));
    int cols = picture->left.cols;
    while (scale > 1 && digits_width(tag, scale) + digits_width("-100.0", scale) + 4 * scale > cols)
        scale--;
    if (!digits_know(tag) || digits_width(tag, scale) + digits_width("-100.0", scale) + 4 > cols)
        tag = "";
    struct area area = take_rows(picture, DIGIT_ROWS * scale);
    digits_put(picture->canvas, area, THRUM_INK_STRONG, tag, scale);
    int width = digits_width(level.text, scale);
    area.col += area.cols - width;
    area.cols = width;
    digits_put(picture->canvas, area, words_heard_ink(picture->scene), level.text, scale);
}

static void put_wrapped(struct picture *picture, enum thrum_ink ink, const char *text)
{
    take_rows(picture, canvas_put_wrapped(picture->canvas, picture->left, 0, ink, text));
}

/* What matters most at this moment, as a large word: hold on, enough, or the verdict. */
static void put_large_word(struct picture *picture)
{
    struct words words = {.text = ""};
    words_large(&words, picture->scene);
    struct area area = take_rows(picture, picture->left.rows - 1);
    int scale = scale_that_fits(words.text, area.rows >= 14 ? 2 : 1, area.cols);
    if (scale == 0 || area.rows < DIGIT_ROWS * scale + 1)
        return;
    enum thrum_ink ink =
        picture->scene->snapshot->touching ? THRUM_INK_STRONG : words_verdict_ink(picture->scene);
    digits_put(picture->canvas, area_below(area, area.rows - DIGIT_ROWS * scale), ink, words.text, scale);
}

static void put_left_column(struct picture *picture)
{
    struct words verdict = {.text = ""}, next = {.text = ""};
    const char *note;
    put_block(picture, take_rows(picture, 4));
    take_rows(picture, picture->left.rows >= 10);
    words_verdict(&verdict, picture->scene);
    put_wrapped(picture, words_verdict_ink(picture->scene), verdict.text);
    words_next(&next, picture->scene);
    put_wrapped(picture, THRUM_INK_STRONG, next.text);
    take_rows(picture, picture->left.rows >= 6);
    put_optional(picture, picture->left.rows);
    for (int i = 0; (note = words_note(picture->scene, i)) != NULL && picture->left.rows > 0; i++)
        put_wrapped(picture, THRUM_INK_TEXT, note);
    if (picture->left.rows > DIGIT_ROWS + 2)
        put_large_word(picture);
}

static void compose_wide(struct picture *picture)
{
    int rows = picture->left.rows, cols = picture->left.cols;
    part_keys(picture->canvas, take_last_row(picture), picture->scene, picture->view);
    put_top(picture, rows < 30 ? 3 : rows < 50 ? 5 : 8);
    take_rows(picture, 1);
    put_large(picture, rows < 36 ? 1 : rows < 56 ? 2 : 3);
    take_rows(picture, 1);
    struct area right = picture->left;
    int left_cols = cols / 2 - 2;
    if (left_cols > cols - 68)
        left_cols = cols - 68 > 48 ? cols - 68 : 48; /* the ranking draws its intervals from 65 columns on */
    right.col += left_cols + 3;
    right.cols -= left_cols + 3;
    picture->left.cols = left_cols;
    put_left_column(picture);
    part_ranking(picture->canvas, right, picture->scene);
}

static void compose_all(struct picture *picture)
{
    bool wide = picture->left.rows >= 22 && picture->left.cols >= 100;
    picture->left.col += 1; /* a margin: large characters do not touch the window's edge */
    picture->left.cols -= 2;
    if (wide)
        compose_wide(picture);
    else
        compose_full(picture);
}

static void compose_instead(struct picture *picture)
{
    part_bar(picture->canvas, take_rows(picture, 1), picture->scene, false);
    if (picture->view->help)
        part_help(picture->canvas, picture->left);
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
    struct picture picture = {.canvas = &canvas, .scene = &scene, .view = view, .left = {0, 0, rows, cols}};
    canvas_clear(&canvas);
    if (rows < 5 || cols < 20)
        compose_line(&picture);
    else if (view->help || view->log)
        compose_instead(&picture);
    else if (rows < 15 || cols < 60)
        compose_small(&picture);
    else
        compose_all(&picture);
}
