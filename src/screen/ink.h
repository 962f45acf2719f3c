/* What the inks look like on this terminal. */
#ifndef THRUM_SCREEN_INK_H
#define THRUM_SCREEN_INK_H

#include <ncurses.h>
#include <stdbool.h>

#include "screen/screen.h"

struct ink_table {
    chtype attributes[THRUM_INKS];
    chtype ground; /* of cells with nothing on them */
};

/* Sets up colour pairs for the look when the terminal has colours, and says which attributes each ink has. */
struct ink_table ink_table_for(enum thrum_screen_look look, bool colours);

#endif
