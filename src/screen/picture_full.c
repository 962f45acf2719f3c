/* The full and the wide picture. */
#include "screen/digits.h"
#include "screen/parts.h"
#include "screen/picture.h"

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
    struct words words = {.text = ""}, touched = {.text = ""};
    words_add(&words, "Wire %s", scene->snapshot->current);
    words_touched(&touched, scene->snapshot);
    words_add(&words, "%s%s", touched.text[0] ? ", " : "", touched.text);
    if (scene->snapshot->n_senders > 1 && scene->sender >= 0)
        words_add(&words, "   sender %s (s next)", scene->snapshot->sender[scene->sender].name);
    canvas_put(picture->canvas, area, 0, 0, THRUM_INK_STRONG, words.text);
}

static void put_block(struct picture *picture, struct area area)
{
    put_wire(picture, area);
    picture_put_heard(picture, area_below(area, 1));
    picture_put_touch(picture, area_below(area, 2));
    picture_put_hum(picture, area_below(area, 3));
}

/* Rows that are there only when there is something to say. At most `most` of them. */
static void put_optional(struct picture *picture, int most)
{
    struct words message = {.text = ""}, faults = {.text = ""}, others = {.text = ""};
    enum thrum_ink ink;
    picture_message(&message, &ink, picture);
    picture_faults(&faults, picture, most > 1 ? 2 : 1);
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
        picture_take(picture, used);
        most -= used;
    }
}

/* A sentence over as many rows as it takes. */
static void put_sentence(struct picture *picture, void (*say)(struct words *, const struct scene *))
{
    struct words words = {.text = ""};
    say(&words, picture->scene);
    picture_take(picture, canvas_put_wrapped(picture->canvas, picture->left, 0, THRUM_INK_TEXT, words.text));
}

/* As many notes as fit whole into the rows. */
static void put_notes(struct picture *picture, int most)
{
    const char *note;
    for (int i = 0; (note = words_note(picture->scene, i)) != NULL; i++) {
        int rows = canvas_rows(picture->canvas->utf8, note, picture->left.cols);
        if (rows > most)
            return;
        canvas_put_wrapped(picture->canvas, picture_take(picture, rows), 0, THRUM_INK_DIM, note);
        most -= rows;
    }
}

static void put_top(struct picture *picture, int bar_rows)
{
    picture->has_head = picture->says_practice = true;
    part_head(picture->canvas, picture_take(picture, 1), picture->scene);
    part_bar(picture->canvas, picture_take(picture, bar_rows + 1), picture->scene, true);
    part_numbers(picture->canvas, picture_take(picture, 1), picture->scene);
}

void picture_full(struct picture *picture)
{
    int rows = picture->left.rows, cols = picture->left.cols;
    bool airy = rows >= 22;
    const char *tag = picture->scene->snapshot->current;
    int scale = rows >= 18 ? scale_that_fits(tag, rows >= 40 ? 2 : 1, cols - 50) : 0;
    part_keys(picture->canvas, picture_take_last(picture), picture->scene, picture->view);
    put_top(picture, rows < 18 ? 1 : rows < 30 ? 3 : 5);
    picture_take(picture, airy);
    struct area block = picture_take(picture, scale > 0 ? DIGIT_ROWS * scale : 4);
    if (scale > 0) {
        int width = digits_width(tag, scale) + 3;
        digits_put(picture->canvas, block, THRUM_INK_STRONG, tag, scale);
        block.col += width;
        block.cols -= width;
    }
    put_block(picture, block);
    picture_take(picture, airy);
    put_optional(picture, picture->left.rows > 5 ? picture->left.rows - 5 : picture->left.rows - 4);
    picture_put_verdict(picture, picture_take(picture, 1));
    if (airy) {
        put_sentence(picture, words_next);
        put_notes(picture, picture->left.rows - 5);
    } else {
        picture_put_next(picture, picture_take(picture, 1));
    }
    picture_take(picture, rows >= 24);
    part_ranking(picture->canvas, picture->left, picture->scene);
}

/* Tag and level, both large, side by side over the whole width; the level at the right edge. */
static void put_large(struct picture *picture, int scale)
{
    const char *tag = picture->scene->snapshot->current;
    struct words level = {.text = ""};
    words_level(&level, picture->scene->dbfs);
    int cols = picture->left.cols;
    while (scale > 1 && digits_width(tag, scale) + digits_width("-100.0", scale) + 4 * scale > cols)
        scale--;
    if (!digits_know(tag) || digits_width(tag, scale) + digits_width("-100.0", scale) + 4 > cols)
        tag = "";
    struct area area = picture_take(picture, DIGIT_ROWS * scale);
    digits_put(picture->canvas, area, THRUM_INK_STRONG, tag, scale);
    int width = digits_width(level.text, scale);
    area.col += area.cols - width;
    area.cols = width;
    digits_put(picture->canvas, area, words_heard_ink(picture->scene), level.text, scale);
}

static void put_wrapped(struct picture *picture, enum thrum_ink ink, const char *text)
{
    picture_take(picture, canvas_put_wrapped(picture->canvas, picture->left, 0, ink, text));
}

/* What matters most at this moment, as a large word: hold on, enough, or the verdict. */
static void put_large_word(struct picture *picture)
{
    struct words words = {.text = ""}, narrow = {.text = ""};
    words_large(&words, picture->scene);
    words_large_narrow(&narrow, picture->scene);
    struct area area = picture_take(picture, picture->left.rows - 1);
    int scale = scale_that_fits(words.text, area.rows >= 14 ? 2 : 1, area.cols);
    if (scale == 0) {
        words = narrow;
        scale = scale_that_fits(words.text, 1, area.cols);
    }
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
    put_block(picture, picture_take(picture, 4));
    picture_take(picture, picture->left.rows >= 10);
    words_verdict(&verdict, picture->scene);
    put_wrapped(picture, words_verdict_ink(picture->scene), verdict.text);
    words_next(&next, picture->scene);
    put_wrapped(picture, THRUM_INK_STRONG, next.text);
    picture_take(picture, picture->left.rows >= 6);
    put_optional(picture, picture->left.rows);
    for (int i = 0; (note = words_note(picture->scene, i)) != NULL && picture->left.rows > 0; i++)
        put_wrapped(picture, THRUM_INK_TEXT, note);
    if (picture->left.rows > DIGIT_ROWS + 2)
        put_large_word(picture);
}

void picture_wide(struct picture *picture)
{
    int rows = picture->left.rows, cols = picture->left.cols;
    part_keys(picture->canvas, picture_take_last(picture), picture->scene, picture->view);
    put_top(picture, rows < 30 ? 3 : rows < 50 ? 5 : 8);
    picture_take(picture, 1);
    put_large(picture, rows < 36 ? 1 : rows < 56 ? 2 : 3);
    picture_take(picture, 1);
    struct area right = picture->left;
    int left_cols = cols / 2 - 2;
    if (left_cols > cols - 66)
        left_cols = cols - 66 > 48 ? cols - 66 : 48; /* the ranking draws its intervals from 63 columns on */
    right.col += left_cols + 3;
    right.cols -= left_cols + 3;
    picture->left.cols = left_cols;
    put_left_column(picture);
    part_ranking(picture->canvas, right, picture->scene);
}
