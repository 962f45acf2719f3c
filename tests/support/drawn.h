/* A picture of the screen as text, and what each state must say. */
#ifndef THRUM_TESTS_DRAWN_H
#define THRUM_TESTS_DRAWN_H

#include <stdbool.h>

#include "scenes.h"
#include "screen/screen.h"

#define DRAWN_GUARD 64 /* cells before and behind the picture that must stay as they are */

struct drawn {
    struct thrum_snapshot snapshot;
    struct thrum_screen_facts facts;
    struct thrum_screen_view view;
    struct thrum_cell cells[DRAWN_GUARD + THRUM_SCREEN_MAX_ROWS * THRUM_SCREEN_MAX_COLS + DRAWN_GUARD];
    int rows;
    int cols;
    char text[THRUM_SCREEN_MAX_ROWS * (THRUM_SCREEN_MAX_COLS * 15 + 1) + 1]; /* rows ended by line ends */
};

/* As cmocka wants them: *state is a struct drawn. */
int drawn_set_up(void **state);
int drawn_tear_down(void **state);

/* Sets snapshot, facts and view to those of the scene. */
void drawn_make(struct drawn *picture, enum scene_name scene, bool utf8);

/* Draws them at that size, cells and text. */
void drawn_compose(struct drawn *picture, int rows, int cols);

/* The text has it; the text has its words in this order, whatever rows they are on. */
bool drawn_says(const struct drawn *picture, const char *text);
bool drawn_says_all(const struct drawn *picture, const char *sentence);

/* What a state must say, at the smallest size and at all larger ones. */
struct drawn_words {
    enum scene_name scene;
    const char *narrow;
    const char *full;
};
extern const struct drawn_words drawn_said[];
extern const int n_drawn_said;

#endif
