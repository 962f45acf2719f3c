#include "screen/canvas.h"

#include <string.h>

struct code_range {
    unsigned long first;
    unsigned long last;
};

/* Characters that combine with the one before, or take no place. The blocks of the Unicode Standard. */
static const struct code_range no_width[] = {
    {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x064B, 0x065F},   {0x1AB0, 0x1AFF},
    {0x1DC0, 0x1DFF}, {0x200B, 0x200F}, {0x202A, 0x202E}, {0x2060, 0x2064},   {0x20D0, 0x20FF},
    {0x3099, 0x309A}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}, {0xE0100, 0xE01EF},
};

/* East Asian wide characters, and pictures. */
static const struct code_range two_columns[] = {
    {0x1100, 0x115F},   {0x2E80, 0x3098},   {0x309B, 0xA4CF},   {0xA960, 0xA97F}, {0xAC00, 0xD7A3},
    {0xF900, 0xFAFF},   {0xFE30, 0xFE6F},   {0xFF00, 0xFF60},   {0xFFE0, 0xFFE6}, {0x1F300, 0x1F64F},
    {0x1F680, 0x1F6FF}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD},
};

static bool in_ranges(const struct code_range *range, size_t n, unsigned long code)
{
    for (size_t i = 0; i < n; i++)
        if (code >= range[i].first && code <= range[i].last)
            return true;
    return false;
}

int canvas_code_width(unsigned long code)
{
    if (code < no_width[0].first)
        return 1;
    if (in_ranges(no_width, sizeof no_width / sizeof no_width[0], code))
        return 0;
    return in_ranges(two_columns, sizeof two_columns / sizeof two_columns[0], code) ? 2 : 1;
}

static size_t sequence_length(unsigned char first)
{
    if (first < 0x80)
        return 1;
    if (first >= 0xC2 && first <= 0xDF)
        return 2;
    if (first >= 0xE0 && first <= 0xEF)
        return 3;
    if (first >= 0xF0 && first <= 0xF4)
        return 4;
    return 0;
}

/* The smallest code point that needs so many bytes; a longer writing than needed is broken. */
static const unsigned long least_code[5] = {0, 0, 0x80, 0x800, 0x10000};

static bool code_allowed(unsigned long code, size_t length)
{
    return code >= least_code[length] && code <= 0x10FFFF && !(code >= 0xD800 && code <= 0xDFFF);
}

size_t canvas_decode(const char *text, unsigned long *code)
{
    unsigned char first = (unsigned char)text[0];
    size_t length = sequence_length(first);
    *code = 0xFFFD;
    if (first == 0)
        return 0;
    if (length <= 1) {
        *code = length ? first : 0xFFFD;
        return 1;
    }
    unsigned long value = first & (0x7Fu >> length);
    for (size_t i = 1; i < length; i++) {
        unsigned char next = (unsigned char)text[i];
        if ((next & 0xC0) != 0x80)
            return 1;
        value = value << 6 | (next & 0x3Fu);
    }
    if (!code_allowed(value, length))
        return 1;
    *code = value;
    return length;
}

bool canvas_printable(unsigned long code, bool utf8)
{
    if (code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0xFFFD)
        return false;
    if (code >= 0x202A && code <= 0x202E)
        return false; /* they turn the writing direction of the rest of the row */
    return utf8 || code < 0x80;
}

void canvas_clear(struct canvas *canvas)
{
    const struct thrum_cell space = {.glyph = " ", .ink = THRUM_INK_TEXT};
    for (int i = 0; i < canvas->rows * canvas->cols; i++)
        canvas->cells[i] = space;
}

static struct thrum_cell *cell_at(struct canvas *canvas, struct area area, int row, int col)
{
    if (row < 0 || row >= area.rows || col < 0 || col >= area.cols)
        return NULL;
    int y = area.row + row, x = area.col + col;
    if (y < 0 || y >= canvas->rows || x < 0 || x >= canvas->cols)
        return NULL;
    return &canvas->cells[y * canvas->cols + x];
}

/* A wide character that loses one half loses the other as well. */
static void mend_halves(struct canvas *canvas, struct thrum_cell *cell)
{
    long at = (cell - canvas->cells) % canvas->cols;
    if (cell->glyph[0] == 0 && at > 0)
        strcpy(cell[-1].glyph, " ");
    if (at + 1 < canvas->cols && cell[1].glyph[0] == 0)
        strcpy(cell[1].glyph, " ");
}

static void set_cell(struct canvas *canvas, struct thrum_cell *cell, const char *bytes, size_t length,
                     enum thrum_ink ink)
{
    mend_halves(canvas, cell);
    memset(cell->glyph, 0, sizeof cell->glyph);
    memcpy(cell->glyph, bytes, length);
    cell->ink = (uint8_t)ink;
}

static void combine(struct thrum_cell *cell, const char *bytes, size_t length)
{
    size_t have = strlen(cell->glyph);
    if (have + length < sizeof cell->glyph)
        memcpy(cell->glyph + have, bytes, length);
}

int canvas_put(struct canvas *canvas, struct area area, int row, int col, enum thrum_ink ink,
               const char *text)
{
    struct thrum_cell *last = NULL;
    unsigned long code;
    int at = col;
    for (size_t n; (n = canvas_decode(text, &code)) != 0; text += n) {
        bool shown = canvas_printable(code, canvas->utf8);
        int width = shown ? canvas_code_width(code) : 1;
        if (width == 0) {
            if (last)
                combine(last, text, n);
            continue;
        }
        struct thrum_cell *cell = cell_at(canvas, area, row, at);
        struct thrum_cell *second = width == 2 ? cell_at(canvas, area, row, at + 1) : cell;
        if (at >= area.cols || (cell && !second))
            break;
        if (cell)
            set_cell(canvas, cell, shown ? text : "?", shown ? n : 1, ink);
        if (cell && width == 2)
            set_cell(canvas, second, "", 0, ink);
        if (cell && width == 2)
            memcpy(cell->glyph, text, n); /* mend_halves() of the second has seen a half of its own */
        last = cell;
        at += width;
    }
    return at - col;
}

int canvas_width(bool utf8, const char *text)
{
    unsigned long code;
    int width = 0;
    for (size_t n; (n = canvas_decode(text, &code)) != 0; text += n)
        width += canvas_printable(code, utf8) ? canvas_code_width(code) : 1;
    return width;
}

void canvas_put_right(struct canvas *canvas, struct area area, int row, enum thrum_ink ink, const char *text)
{
    int start = area.cols - canvas_width(canvas->utf8, text);
    canvas_put(canvas, area, row, start > 0 ? start : 0, ink, text);
}

/* Bytes of the longest beginning of text that fits into `cols` columns and ends with a word, if any does. */
static size_t piece_that_fits(bool utf8, const char *text, int cols)
{
    unsigned long code;
    size_t at = 0, word_end = 0;
    int width = 0;
    for (size_t n; (n = canvas_decode(text + at, &code)) != 0; at += n) {
        width += canvas_printable(code, utf8) ? canvas_code_width(code) : 1;
        if (code == ' ')
            word_end = at;
        if (width > cols && code != ' ')
            return word_end ? word_end : at;
        if (width > cols)
            return at;
    }
    return at;
}

int canvas_put_wrapped(struct canvas *canvas, struct area area, int row, enum thrum_ink ink, const char *text)
{
    char piece[1024];
    int used = 0;
    while (*text && row + used < area.rows && area.cols > 0) {
        size_t n = piece_that_fits(canvas->utf8, text, area.cols);
        if (n == 0 || n >= sizeof piece)
            break;
        memcpy(piece, text, n);
        piece[n] = 0;
        canvas_put(canvas, area, row + used++, 0, ink, piece);
        text += n;
        while (*text == ' ')
            text++;
    }
    return used;
}

int canvas_rows(bool utf8, const char *text, int cols)
{
    int rows = 0;
    for (size_t n; cols > 0 && (n = piece_that_fits(utf8, text, cols)) != 0; rows++) {
        text += n;
        while (*text == ' ')
            text++;
    }
    return rows;
}

void canvas_fill(struct canvas *canvas, struct area area, int row, int col, int count, enum thrum_ink ink,
                 const char *glyph)
{
    for (int i = 0; i < count; i++)
        canvas_put(canvas, area, row, col + i, ink, glyph);
}

size_t canvas_copy(char *out, size_t size, const char *text)
{
    unsigned long code;
    size_t at = 0;
    if (size == 0)
        return 0;
    for (size_t n; (n = canvas_decode(text + at, &code)) != 0 && at + n < size; at += n)
        memcpy(out + at, text + at, n);
    out[at] = 0;
    return at;
}

struct area area_top(struct area area, int rows)
{
    if (rows < 0)
        rows = 0;
    if (area.rows > rows)
        area.rows = rows;
    return area;
}

struct area area_below(struct area area, int rows)
{
    if (rows < 0)
        rows = 0;
    if (rows > area.rows)
        rows = area.rows;
    area.row += rows;
    area.rows -= rows;
    return area;
}
