/* The small picture: rows in order of importance. */
#include "screen/parts.h"
#include "screen/picture.h"

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
    words_level(&level, picture->scene->dbfs);
    canvas_put_right(picture->canvas, area, 0, THRUM_INK_STRONG, level.text);
}

static void put_words(const struct picture *picture, struct area area, enum small_row row)
{
    struct words words = {.text = ""};
    enum thrum_ink ink = THRUM_INK_TEXT;
    if (row == SMALL_MESSAGE)
        picture_message(&words, &ink, picture);
    else
        picture_faults(&words, picture, 1);
    canvas_put(picture->canvas, area, 0, 0, row == SMALL_FAULTS ? THRUM_INK_WARN : ink, words.text);
}

static bool has_something_to_say(const struct picture *picture, enum small_row row)
{
    struct words words = {.text = ""};
    enum thrum_ink ink;
    if (row == SMALL_MESSAGE)
        picture_message(&words, &ink, picture);
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
        picture_put_touch(picture, area);
        break;
    case SMALL_HEARD:
        picture_put_heard(picture, area);
        break;
    case SMALL_VERDICT:
        picture_put_verdict(picture, area);
        break;
    case SMALL_NEXT:
        picture_put_next(picture, area);
        break;
    case SMALL_RANKING:
        part_ranking(picture->canvas, area, picture->scene);
        break;
    case SMALL_KEYS:
        part_keys(picture->canvas, area, picture->scene, picture->view);
        break;
    case SMALL_HUM:
        picture_put_hum(picture, area);
        break;
    case SMALL_MESSAGE:
    case SMALL_FAULTS:
        put_words(picture, area, row);
        break;
    case SMALL_SCALE: /* drawn with the bar */
    case SMALL_ROWS:
        break;
    }
}

void picture_small(struct picture *picture)
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
    picture->has_head = rows_of[SMALL_HEAD] > 0;
    picture->says_practice =
        picture->has_head && part_head_says_practice(picture->canvas, picture->left, picture->scene);
    rows_of[SMALL_RANKING] += room;
    rows_of[SMALL_BAR] += rows_of[SMALL_SCALE];
    rows_of[SMALL_SCALE] = 0;
    for (int row = 0; row < SMALL_ROWS; row++)
        if (rows_of[row] > 0)
            put_small_row(picture, picture_take(picture, rows_of[row]), (enum small_row)row);
}
