/* A picture while it is put together: parts take rows from its top. */
#ifndef THRUM_SCREEN_PICTURE_H
#define THRUM_SCREEN_PICTURE_H

#include "screen/canvas.h"
#include "screen/words.h"

struct picture {
    struct canvas *canvas;
    const struct scene *scene;
    const struct thrum_screen_view *view;
    struct area left; /* what has not been drawn yet; parts take rows from its top */
    bool has_head;
    bool says_practice; /* the head does, when this is practice */
};

/* The next rows from the top, and the last one. */
struct area picture_take(struct picture *picture, int rows);
struct area picture_take_last(struct picture *picture);

/* Columns that the text takes. */
int picture_width(const struct picture *picture, const char *text);

/* One row each: the touch in progress (and what a head would say, where there is none), what is heard, hum, the verdict, the
 * next step; in few words where a sentence does not fit. */
void picture_put_touch(const struct picture *picture, struct area area);
void picture_put_heard(const struct picture *picture, struct area area);
void picture_put_hum(const struct picture *picture, struct area area);
void picture_put_verdict(const struct picture *picture, struct area area);
void picture_put_next(const struct picture *picture, struct area area);

/* What the user should know at this moment; "" when there is nothing. */
void picture_message(struct words *words, enum thrum_ink *ink, const struct picture *picture);

/* The faults with advice where that fits into so many rows, else their names. */
void picture_faults(struct words *words, const struct picture *picture, int rows);

/* The whole: small from 20x5, full from 60x15, wide from 100x22. */
void picture_small(struct picture *picture);
void picture_full(struct picture *picture);
void picture_wide(struct picture *picture);

#endif
