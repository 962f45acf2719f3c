#include "screen/keys.h"

#include <string.h>

#define ESCAPE 0x1B
#define BELL   0x07

/* --- Escape sequences that ncurses does not know, or that come one byte at a time over a slow line ---------- */

/* Ends with a letter or ~. Arrows are understood in this form too: ncurses misses them on a slow line. */
static bool swallow_sequence(struct keys *keys, int *code)
{
    bool first = keys->escape == KEY_ESCAPE_FIRST;
    int taken = *code;
    keys->escape = taken >= 0x20 && taken <= 0x3F ? KEY_ESCAPE_SEQUENCE : KEY_ESCAPE_NONE;
    if (first && (taken == 'C' || taken == 'D')) {
        *code = taken == 'C' ? KEY_CODE_RIGHT : KEY_CODE_LEFT;
        return false;
    }
    return taken >= 0x20 && taken <= 0x7E;
}

/* True when the code belongs to such a sequence and is thereby dealt with. */
static bool swallow(struct keys *keys, int *code)
{
    switch (keys->escape) {
    case KEY_ESCAPE_NONE:
        return false;
    case KEY_ESCAPE_BEGUN:
        keys->escape = KEY_ESCAPE_NONE;
        if (*code == '[' || *code == 'O')
            keys->escape = KEY_ESCAPE_FIRST;
        else if (*code == ']' || *code == 'P' || *code == '_' || *code == '^')
            keys->escape = KEY_ESCAPE_TEXT;
        return keys->escape != KEY_ESCAPE_NONE;
    case KEY_ESCAPE_FIRST:
    case KEY_ESCAPE_SEQUENCE:
        return swallow_sequence(keys, code);
    case KEY_ESCAPE_TEXT:
        if (*code == BELL || *code == ESCAPE)
            keys->escape = KEY_ESCAPE_NONE;
        return *code != ESCAPE;
    }
    return false;
}

/* --- Typing a tag ---------------------------------------------------------------------------------------- */

static void begin_entry(struct thrum_screen_view *view, int first)
{
    view->entering = true;
    view->entry[0] = (char)first;
    view->entry[1] = 0;
}

static void end_entry(struct thrum_screen_view *view)
{
    view->entering = false;
    view->entry[0] = 0;
}

static void erase_last_character(struct thrum_screen_view *view)
{
    size_t n = strlen(view->entry);
    if (n == 0) {
        end_entry(view);
        return;
    }
    do
        n--;
    while (n > 0 && ((unsigned char)view->entry[n] & 0xC0) == 0x80);
    view->entry[n] = 0;
}

static void add_byte(struct thrum_screen_view *view, int code)
{
    size_t n = strlen(view->entry);
    bool room = n + 1 < sizeof view->entry;
    if (room && code > 0x20 && code != 0x7F && code < 0x100) {
        view->entry[n] = (char)code;
        view->entry[n + 1] = 0;
    }
}

static bool is_enter(int code)
{
    return code == '\n' || code == '\r' || code == KEY_CODE_ENTER;
}

static bool is_backspace(int code)
{
    return code == '\b' || code == 0x7F || code == KEY_CODE_BACKSPACE;
}

static void type(struct key_effect *effect, struct thrum_screen_view *view, int code)
{
    if (is_enter(code)) {
        if (view->entry[0]) {
            effect->press.key = THRUM_KEY_GO_TO;
            memcpy(effect->press.tag, view->entry, sizeof effect->press.tag);
        }
        end_entry(view);
    } else if (is_backspace(code)) {
        erase_last_character(view);
    } else {
        add_byte(view, code);
    }
}

/* --- Single keys ----------------------------------------------------------------------------------------- */

static enum thrum_key action_of(int code)
{
    if (is_enter(code))
        return THRUM_KEY_TAKE;
    if (is_backspace(code))
        return THRUM_KEY_UNDO;
    switch (code) {
    case ' ':
    case KEY_CODE_PAGE_DOWN:
        return THRUM_KEY_TAKE;
    case 'n':
    case KEY_CODE_RIGHT:
        return THRUM_KEY_NEXT;
    case 'p':
    case KEY_CODE_LEFT:
        return THRUM_KEY_PREVIOUS;
    case 'r':
        return THRUM_KEY_REPEAT;
    case 'u':
        return THRUM_KEY_UNDO;
    case 'x':
        return THRUM_KEY_EXCLUDE;
    case 'f':
        return THRUM_KEY_FINISH;
    case 'q':
    case 'Q':
    case 0x03: /* Ctrl-C, when the terminal makes no signal of it */
        return THRUM_KEY_QUIT;
    default:
        return THRUM_KEY_NONE;
    }
}

static void change_picture(struct key_effect *effect, struct thrum_screen_view *view, int code)
{
    switch (code) {
    case 'h':
    case '?':
        view->help = !view->help;
        view->log = false;
        break;
    case 'l':
        view->log = !view->log;
        view->help = false;
        break;
    case 'z':
        view->held = !view->held;
        break;
    case 's':
        view->sender++; /* the caller knows how many there are and wraps it */
        break;
    case 'c':
        effect->next_look = true;
        break;
    case 'g':
        begin_entry(view, 0);
        break;
    default:
        if (code >= '0' && code <= '9')
            begin_entry(view, code);
        break;
    }
}

struct key_effect keys_take(struct keys *keys, struct thrum_screen_view *view, int code)
{
    struct key_effect effect = {.press = {.key = THRUM_KEY_NONE}};
    if (swallow(keys, &code))
        return effect;
    if (code != 'z')
        view->held = false; /* whoever works on wants to see it */
    if (code == ESCAPE) {
        keys->escape = KEY_ESCAPE_BEGUN;
        end_entry(view);
        view->help = view->log = false;
        return effect;
    }
    if (view->entering) {
        type(&effect, view, code);
        return effect;
    }
    effect.press.key = action_of(code);
    if (effect.press.key == THRUM_KEY_NONE)
        change_picture(&effect, view, code);
    else
        view->help = view->log = false;
    return effect;
}
