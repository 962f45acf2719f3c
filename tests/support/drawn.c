#include "drawn.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const struct drawn_words drawn_said[] = {
    {SCENE_START, "NO PICK YET", "NO PICK YET: no wire has been touched"},
    {SCENE_HOLD, "NO PICK YET 7/24", "NO PICK YET: 7 of 24 touched"},
    {SCENE_HOLD, "HOLD 3 s +-2.4", "HOLD ON 3 s more: -49.2 to -44.4 dBFS"},
    {SCENE_ENOUGH, "ENOUGH", "ENOUGH: -47.2 to -46.4 dBFS, press space"},
    {SCENE_WEAKER, "ENOUGH", "ENOUGH, far weaker than the best, press space"},
    {SCENE_HOPELESS, "ENOUGH", "ENOUGH, no better by waiting, press space"},
    {SCENE_TAKEN, "TAKEN", "TAKEN: lift the probe, next is wire 9"},
    {SCENE_PICKED, "PICK 7 99.6 %", "PICK: wire 7, 99.6 % sure"},
    {SCENE_CLOSE, "CLOSE 7 8", "TOO CLOSE: 7 (62.1 %), 8 (37.2 %)"},
    {SCENE_CHECK_TAG, "PICK 7? CHECK TAG", "PICK: wire 7, 99.6 % sure. CHECK THE TAG"},
    {SCENE_UNTRUSTED, "PICK 7? UNTRUSTED", "PICK: wire 7, 99.6 % sure. NOT TO BE TRUSTED"},
    {SCENE_NO_TONE, "NO TONE", "NO TONE: "},
    {SCENE_EVERYWHERE, "EVERYWHERE", "EVERYWHERE: "},
    {SCENE_SILENCE, "SILENT", "digital silence"},
    {SCENE_TOO_LOW, "TOO LOW", "too low to use"},
    {SCENE_OTHER_CADENCE, "NOT OURS", "another cadence"},
    {SCENE_OVERLOAD, "TOO LOUD", "too loud"},
    {SCENE_WAIT, "wait", "waiting for the input"},
    {SCENE_LOST, "INPUT LOST", "INPUT LOST - plug it in again"},
    {SCENE_ENDED, "ended", "the sound has ended"},
    {SCENE_FINISHED, "over", "The round is over"},
    {SCENE_TWO_SENDERS, "PICK 7", "Sender b: NO PICK YET 19/24"},
    {SCENE_ONE_WIRE, "7: ALSO b", "TWO SENDERS ON ONE WIRE: 7 is strongest for a and b"},
    {SCENE_RECORDING_FAILED, "DISK FULL", "RECORDING STOPPED at 1:14"},
    {SCENE_HALVES, "hold 3-14", "Hold the probe against wires 3 to 14, the others apart."},
};
const int n_drawn_said = (int)(sizeof drawn_said / sizeof drawn_said[0]);

int drawn_set_up(void **state)
{
    *state = calloc(1, sizeof(struct drawn));
    return *state ? 0 : -1;
}

int drawn_tear_down(void **state)
{
    free(*state);
    return 0;
}

void drawn_compose(struct drawn *picture, int rows, int cols)
{
    struct thrum_cell *first = picture->cells + DRAWN_GUARD;
    size_t n = 0;
    memset(picture->cells, 0x5A, sizeof picture->cells);
    thrum_screen_compose(&picture->snapshot, &picture->facts, &picture->view, first, rows, cols);
    picture->rows = rows;
    picture->cols = cols;
    for (int i = 0; i < rows * cols; i++) {
        for (const char *c = first[i].glyph; *c; c++)
            picture->text[n++] = *c;
        if (i % cols == cols - 1)
            picture->text[n++] = '\n';
    }
    picture->text[n] = 0;
}

void drawn_make(struct drawn *picture, enum scene_name scene, bool utf8)
{
    scene_make(scene, &picture->snapshot, &picture->facts);
    picture->view = (struct thrum_screen_view){.utf8 = utf8};
}

bool drawn_says(const struct drawn *picture, const char *text)
{
    return strstr(picture->text, text) != NULL;
}

/* The words of a sentence, whatever rows they are on. */
bool drawn_says_all(const struct drawn *picture, const char *sentence)
{
    char words[512], *rest = NULL;
    const char *at = picture->text;
    snprintf(words, sizeof words, "%s", sentence);
    for (char *word = strtok_r(words, " ", &rest); word; word = strtok_r(NULL, " ", &rest)) {
        at = strstr(at, word);
        if (!at)
            return false;
        at += strlen(word);
    }
    return true;
}
