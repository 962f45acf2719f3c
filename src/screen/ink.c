#include "screen/ink.h"

/* Colours of one look: foreground per ink, and the ground. -1 is the terminal's own. */
struct palette {
    short ground;
    short foreground[THRUM_INKS];
    short alarm_ground;
};

/* With 256 colours: middle tones that can be read on white as well as on black. Text has a contrast of 4.4 to 1 or more
 * with both (as WCAG 2.1 reckons it), bar and mark of 3 to 1. */
static const struct palette palette_256[THRUM_LOOKS] = {
    [THRUM_LOOK_COLOUR] = {-1, {-1, 243, -1, 33, 166, 28, 130, 231}, 160},
    [THRUM_LOOK_SUN] = {231, {16, 16, 16, 16, 16, 16, 16, 231}, 16},
    [THRUM_LOOK_CELLAR] = {16, {124, 88, 160, 124, 160, 160, 160, 16}, 160},
};

/* With eight: no yellow, cyan or blue, which are lost on one of the two grounds. */
static const struct palette palette_8[THRUM_LOOKS] = {
    [THRUM_LOOK_COLOUR] = {-1,
                           {-1, -1, -1, -1, COLOR_MAGENTA, COLOR_GREEN, COLOR_MAGENTA, COLOR_WHITE},
                           COLOR_RED},
    [THRUM_LOOK_SUN] = {COLOR_WHITE,
                        {COLOR_BLACK, COLOR_BLACK, COLOR_BLACK, COLOR_BLACK, COLOR_BLACK, COLOR_BLACK,
                         COLOR_BLACK, COLOR_WHITE},
                        COLOR_BLACK},
    [THRUM_LOOK_CELLAR] = {COLOR_BLACK,
                           {COLOR_RED, COLOR_RED, COLOR_RED, COLOR_RED, COLOR_RED, COLOR_RED, COLOR_RED,
                            COLOR_BLACK},
                           COLOR_RED},
};

static chtype shape_of(enum thrum_ink ink, bool colours)
{
    switch (ink) {
    case THRUM_INK_TEXT:
    case THRUM_INK_DIM:
    case THRUM_INK_BAR:
        return A_NORMAL;
    case THRUM_INK_STRONG:
    case THRUM_INK_MARK:
    case THRUM_INK_GOOD:
    case THRUM_INK_WARN:
        return A_BOLD;
    case THRUM_INK_ALARM:
        break;
    }
    return colours ? A_BOLD : A_BOLD | A_REVERSE;
}

struct ink_table ink_table_for(enum thrum_screen_look look, bool colours)
{
    struct ink_table table = {.ground = A_NORMAL};
    colours = colours && look != THRUM_LOOK_PLAIN && COLORS >= 8;
    const struct palette *palette = &(COLORS >= 256 ? palette_256 : palette_8)[look];
    for (int i = 0; i < THRUM_INKS; i++) {
        enum thrum_ink ink = (enum thrum_ink)i;
        table.attributes[i] = shape_of(ink, colours);
        if (!colours)
            continue;
        short ground = ink == THRUM_INK_ALARM ? palette->alarm_ground : palette->ground;
        init_pair((short)(i + 1), palette->foreground[i], ground);
        if (look == THRUM_LOOK_SUN)
            table.attributes[i] |= A_BOLD;
        if (look == THRUM_LOOK_CELLAR)
            table.attributes[i] &= ~A_BOLD; /* many terminals make bold bright */
        table.attributes[i] |= (chtype)COLOR_PAIR(i + 1);
    }
    if (colours)
        table.ground = (chtype)COLOR_PAIR(THRUM_INK_TEXT + 1);
    return table;
}
