/* The parts that the picture is put together from; each draws into its own area. */
#ifndef THRUM_SCREEN_PARTS_H
#define THRUM_SCREEN_PARTS_H

#include "screen/canvas.h"
#include "screen/words.h"

/* The strength bar, filling the area; a row of scale above it when with_scale. */
void part_bar(struct canvas *canvas, struct area area, const struct scene *scene, bool with_scale);

/* The ranking, best first, as many as fit; a heading when there are at least three rows. */
void part_ranking(struct canvas *canvas, struct area area, const struct scene *scene);

/* All keys with their words, and the last lines of the log. */
void part_help(struct canvas *canvas, struct area area);
void part_log(struct canvas *canvas, struct area area, const struct scene *scene);

/* The inputs that can take the place of a lost one. */
void part_inputs(struct canvas *canvas, struct area area, const struct scene *scene);

/* One row: the keys, the tag being typed, or that the picture is held. */
void part_keys(struct canvas *canvas, struct area area, const struct scene *scene,
               const struct thrum_screen_view *view);

/* Level now and best so far, in one row. */
void part_numbers(struct canvas *canvas, struct area area, const struct scene *scene);

/* Input left, recording right, in one row. */
void part_head(struct canvas *canvas, struct area area, const struct scene *scene);

/* Whether the head, drawn into that area, has room to say PRACTICE. */
bool part_head_says_practice(const struct canvas *canvas, struct area area, const struct scene *scene);

#endif
