/* What pictures of all sizes are put together with. */
#include "screen/picture.h"

#include "screen/parts.h"

struct area picture_take(struct picture *picture, int rows)
{
    struct area taken = area_top(picture->left, rows);
    picture->left = area_below(picture->left, rows);
    return taken;
}

struct area picture_take_last(struct picture *picture)
{
    struct area taken = area_below(picture->left, picture->left.rows - 1);
    picture->left.rows -= taken.rows;
    return taken;
}

int picture_width(const struct picture *picture, const char *text)
{
    return canvas_width(picture->canvas->utf8, text);
}

/* The sentence when it fits, else the few words. */
static void put_fitting(const struct picture *picture, struct area area, enum thrum_ink ink,
                        const struct words *full, const struct words *narrow)
{
    const struct words *words = picture_width(picture, full->text) <= area.cols ? full : narrow;
    canvas_put(picture->canvas, area, 0, 0, ink, words->text);
}

void picture_message(struct words *words, enum thrum_ink *ink, const struct picture *picture)
{
    const struct thrum_screen_facts *facts = picture->scene->facts;
    *ink = facts->input_state == THRUM_INPUT_LOST || facts->record == THRUM_RECORD_FAILED ? THRUM_INK_ALARM
                                                                                          : THRUM_INK_WARN;
    if (picture->view->held)
        words_add(words, "PICTURE HELD, z goes on. ");
    if (picture->view->pasted)
        words_add(words, "PASTE IGNORED. ");
    words_message(words, picture->scene);
}

static const char practice[] = "PRACTICE";

/* What the head would say and must not be missing: that this is practice, and whether it is recorded. */
static void put_instead_of_head(const struct picture *picture, struct area area)
{
    struct words recording = {.text = ""};
    const struct scene *scene = picture->scene;
    words_recording_narrow(&recording, scene);
    if (scene->facts->practice && !picture->says_practice)
        canvas_put_right(picture->canvas, area, 0, THRUM_INK_STRONG, practice);
    else if (picture->has_head)
        return;
    else if (picture_width(picture, recording.text) <= area.cols)
        canvas_put_right(picture->canvas, area, 0, words_recording_ink(scene), recording.text);
    else if (scene->facts->record == THRUM_RECORD_ON && area.cols >= 3)
        canvas_put_right(picture->canvas, area, 0, words_recording_ink(scene), "rec");
}

void picture_put_touch(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    enum thrum_ink ink = picture->scene->snapshot->enough ? THRUM_INK_GOOD : THRUM_INK_TEXT;
    if (picture->view->entering) {
        part_keys(picture->canvas, area, picture->scene, picture->view);
        return;
    }
    words_touch(&full, picture->scene);
    words_touch_narrow(&narrow, picture->scene);
    /* The few words where the sentence would leave no room for that. */
    if (picture->scene->facts->practice && !picture->says_practice &&
        picture_width(picture, full.text) + 1 + picture_width(picture, practice) > area.cols)
        full = narrow;
    put_fitting(picture, area, ink, &full, &narrow);
    int full_cols = picture_width(picture, full.text);
    int used = full_cols <= area.cols ? full_cols : picture_width(picture, narrow.text);
    area.col += used + 1;
    area.cols -= used + 1;
    put_instead_of_head(picture, area);
}

void picture_put_heard(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, brief = {.text = ""};
    int used = canvas_put(picture->canvas, area, 0, 0, THRUM_INK_TEXT, "Heard: ");
    words_add(&full, "%s", words_heard(picture->scene));
    words_add(&brief, "%s", words_heard_brief(picture->scene));
    area.col += used;
    area.cols -= used;
    put_fitting(picture, area, words_heard_ink(picture->scene), &full, &brief);
}

void picture_put_hum(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    words_hum(&full, picture->scene);
    words_hum_narrow(&narrow, picture->scene);
    put_fitting(picture, area, THRUM_INK_TEXT, &full, &narrow);
}

void picture_put_verdict(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""}, bare = {.text = ""};
    words_verdict(&full, picture->scene);
    words_verdict_narrow(&bare, picture->scene);
    if (picture->scene->sender >= 0 && picture->scene->snapshot->n_senders > 1)
        words_add(&narrow, "%s: ", picture->scene->snapshot->sender[picture->scene->sender].name);
    words_add(&narrow, "%s", bare.text);
    if (picture_width(picture, narrow.text) > area.cols)
        narrow = bare;
    put_fitting(picture, area, words_verdict_ink(picture->scene), &full, &narrow);
}

void picture_put_next(const struct picture *picture, struct area area)
{
    struct words full = {.text = ""}, narrow = {.text = ""};
    words_next(&full, picture->scene);
    words_next_narrow(&narrow, picture->scene);
    put_fitting(picture, area, THRUM_INK_TEXT, &full, &narrow);
}

void picture_faults(struct words *words, const struct picture *picture, int rows)
{
    words_faults(words, picture->scene);
    if (canvas_rows(picture->canvas->utf8, words->text, picture->left.cols) <= rows)
        return;
    words->text[0] = 0;
    words_fault_names(words, picture->scene);
}
