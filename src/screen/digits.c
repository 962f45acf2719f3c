#include "screen/digits.h"

#include <ctype.h>
#include <string.h>

struct large_character {
    char character;
    const char *row[DIGIT_ROWS]; /* '#' is filled; all rows of a character are equally long */
};

static const struct large_character large[] = {
    {'0', {"###", "# #", "# #", "# #", "###"}},
    {'1', {" # ", "## ", " # ", " # ", "###"}},
    {'2', {"###", "  #", "###", "#  ", "###"}},
    {'3', {"###", "  #", " ##", "  #", "###"}},
    {'4', {"# #", "# #", "###", "  #", "  #"}},
    {'5', {"###", "#  ", "###", "  #", "###"}},
    {'6', {"###", "#  ", "###", "# #", "###"}},
    {'7', {"###", "  #", "  #", " # ", " # "}},
    {'8', {"###", "# #", "###", "# #", "###"}},
    {'9', {"###", "# #", "###", "  #", "###"}},
    {'A', {" # ", "# #", "###", "# #", "# #"}},
    {'B', {"## ", "# #", "## ", "# #", "## "}},
    {'C', {" ##", "#  ", "#  ", "#  ", " ##"}},
    {'D', {"## ", "# #", "# #", "# #", "## "}},
    {'E', {"###", "#  ", "## ", "#  ", "###"}},
    {'F', {"###", "#  ", "## ", "#  ", "#  "}},
    {'G', {"###", "#  ", "# #", "# #", "###"}},
    {'H', {"# #", "# #", "###", "# #", "# #"}},
    {'I', {"###", " # ", " # ", " # ", "###"}},
    {'J', {"  #", "  #", "  #", "# #", " # "}},
    {'K', {"#  #", "# # ", "##  ", "# # ", "#  #"}},
    {'L', {"#  ", "#  ", "#  ", "#  ", "###"}},
    {'M', {"#   #", "## ##", "# # #", "#   #", "#   #"}},
    {'N', {"#  #", "## #", "# ##", "#  #", "#  #"}},
    {'O', {"###", "# #", "# #", "# #", "###"}},
    {'P', {"## ", "# #", "## ", "#  ", "#  "}},
    {'Q', {" ## ", "#  #", "#  #", "# ##", " ###"}},
    {'R', {"## ", "# #", "## ", "# #", "# #"}},
    {'S', {" ##", "#  ", " # ", "  #", "## "}},
    {'T', {"###", " # ", " # ", " # ", " # "}},
    {'U', {"# #", "# #", "# #", "# #", "###"}},
    {'V', {"# #", "# #", "# #", "# #", " # "}},
    {'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}},
    {'X', {"# #", "# #", " # ", "# #", "# #"}},
    {'Y', {"# #", "# #", " # ", " # ", " # "}},
    {'Z', {"###", "  #", " # ", "#  ", "###"}},
    {'-', {"  ", "  ", "##", "  ", "  "}},
    {'.', {" ", " ", " ", " ", "#"}},
    {'+', {"   ", " # ", "###", " # ", "   "}},
    {'/', {"  #", "  #", " # ", "#  ", "#  "}},
    {'?', {"###", "  #", " ##", "   ", " # "}},
    {' ', {"  ", "  ", "  ", "  ", "  "}},
};

static const struct large_character *find(char character)
{
    int upper = toupper((unsigned char)character);
    for (size_t i = 0; i < sizeof large / sizeof large[0]; i++)
        if (large[i].character == upper)
            return &large[i];
    return NULL;
}

bool digits_know(const char *text)
{
    for (const char *c = text; *c; c++)
        if (!find(*c))
            return false;
    return *text != 0;
}

/* A dot of a character is two columns wide and one row high, so that it is about square. */
static int width_of(const struct large_character *character, int scale)
{
    return (int)strlen(character->row[0]) * 2 * scale;
}

int digits_width(const char *text, int scale)
{
    int width = 0;
    for (const char *c = text; *c; c++) {
        const struct large_character *character = find(*c);
        if (character)
            width += width_of(character, scale) + 2 * scale;
    }
    return width > 0 ? width - 2 * scale : 0;
}

static void put_one(struct canvas *canvas, struct area area, int col, enum thrum_ink ink,
                    const struct large_character *character, int scale)
{
    const char *dot = canvas->utf8 ? "█" : "#";
    for (int row = 0; row < DIGIT_ROWS * scale; row++) {
        const char *dots = character->row[row / scale];
        for (int i = 0; dots[i]; i++)
            if (dots[i] == '#')
                canvas_fill(canvas, area, row, col + i * 2 * scale, 2 * scale, ink, dot);
    }
}

void digits_put(struct canvas *canvas, struct area area, enum thrum_ink ink, const char *text, int scale)
{
    int col = 0;
    for (const char *c = text; *c; c++) {
        const struct large_character *character = find(*c);
        if (!character)
            continue;
        int width = width_of(character, scale);
        if (col + width > area.cols || DIGIT_ROWS * scale > area.rows)
            return;
        put_one(canvas, area, col, ink, character, scale);
        col += width + 2 * scale;
    }
}
