#include "screen/keys.h"

#include <string.h>

#define ESCAPE 0x1B
#define BELL   0x07
#define OVER_S 1.0 /* bytes of what is sent in one go are closer together, over slow lines too */

/* --- Pasted text ------------------------------------------------------------------------------------------- */

/* What xterm's "bracketed paste" (DEC private mode 2004, xterm's ctlseqs document) puts around it: ESC [ 2 0 0 ~ and ESC [ 2 0 1 ~. */
#define PASTE_BEGINS 200
static const char paste_ends[] = "\x1b[201~";

static void swallow_paste(struct keys *keys, int code)
{
    keys->end_seen = code == paste_ends[keys->end_seen] ? keys->end_seen + 1 : code == ESCAPE;
    if (paste_ends[keys->end_seen] != 0)
        return;
    keys->pasting = false;
    keys->end_seen = 0;
}

/* --- Escape sequences that ncurses does not know, or that come one byte at a time over a slow line ---------- */

/* Ends with a letter or ~. Arrows are understood in this form too: ncurses misses them on a slow line. */
static bool swallow_sequence(struct keys *keys, int *code)
{
    bool first = keys->escape == KEY_ESCAPE_FIRST;
    int taken = *code;
    if (first)
        keys->number = 0;
    if (taken >= '0' && taken <= '9' && keys->number <= PASTE_BEGINS)
        keys->number = 10 * keys->number + (taken - '0');
    keys->pasting = taken == '~' && keys->number == PASTE_BEGINS;
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

/* --- Names ------------------------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    int code;
} key_names[] = {
    {"space", ' '},
    {"enter", KEY_CODE_ENTER},
    {"tab", '\t'},
    {"backspace", KEY_CODE_BACKSPACE},
    {"left", KEY_CODE_LEFT},
    {"right", KEY_CODE_RIGHT},
    {"up", KEY_CODE_UP},
    {"down", KEY_CODE_DOWN},
    {"home", KEY_CODE_HOME},
    {"end", KEY_CODE_END},
    {"pageup", KEY_CODE_PAGE_UP},
    {"pagedown", KEY_CODE_PAGE_DOWN},
};

static int function_key(const char *name)
{
    int n = 0;
    if (name[0] != 'f' && name[0] != 'F')
        return 0;
    for (const char *c = name + 1; *c; c++) {
        if (*c < '0' || *c > '9' || n > 12)
            return 0;
        n = 10 * n + (*c - '0');
    }
    return n >= 1 && n <= 12 ? KEY_CODE_F1 + n - 1 : 0;
}

static bool same_name(const char *a, const char *b)
{
    while (*a && (*a | 0x20) == *b)
        a++, b++;
    return *a == 0 && *b == 0;
}

int keys_named(const char *name)
{
    if (name[0] > 0x20 && name[0] < 0x7F && name[1] == 0)
        return name[0];
    for (size_t i = 0; i < sizeof key_names / sizeof key_names[0]; i++)
        if (same_name(name, key_names[i].name))
            return key_names[i].code;
    return function_key(name);
}

bool thrum_screen_knows_key(const char *name)
{
    return keys_named(name) != 0;
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
    case 'w':
        return THRUM_KEY_NEW;
    case 'a':
        return THRUM_KEY_ALL_AGAIN;
    case 'r':
        return THRUM_KEY_REPEAT;
    case 'u':
        return THRUM_KEY_UNDO;
    case 'd':
        return THRUM_KEY_DROP;
    case 'x':
        return THRUM_KEY_EXCLUDE;
    case '<':
        return THRUM_KEY_TAG_LOWER;
    case '>':
        return THRUM_KEY_TAG_HIGHER;
    case 'i':
        return THRUM_KEY_LOOK;
    case 'm':
        return THRUM_KEY_FOLLOW;
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
        view->log = view->inputs = false;
        break;
    case 'l':
        view->log = !view->log;
        view->help = view->inputs = false;
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

void keys_rest(struct keys *keys, double silent_s)
{
    if (silent_s < OVER_S)
        return;
    keys->pasting = false;
    keys->end_seen = 0;
    keys->escape = KEY_ESCAPE_NONE;
}

struct key_effect keys_take(struct keys *keys, struct thrum_screen_view *view, int code)
{
    struct key_effect effect = {.press = {.key = THRUM_KEY_NONE}};
    if (keys->pasting) {
        swallow_paste(keys, code);
        return effect;
    }
    if (swallow(keys, &code)) {
        view->pasted = view->pasted || keys->pasting;
        return effect;
    }
    view->pasted = false;
    if (code != 'z')
        view->held = false; /* whoever works on wants to see it */
    if (code == ESCAPE) {
        keys->escape = KEY_ESCAPE_BEGUN;
        end_entry(view);
        view->help = view->log = view->inputs = false;
        return effect;
    }
    if (view->entering) {
        type(&effect, view, code);
        return effect;
    }
    if (view->inputs && code >= '1' && code <= '9') {
        effect.press = (struct thrum_key_press){.key = THRUM_KEY_INPUT, .tag = {(char)code}};
        view->inputs = false;
        return effect;
    }
    bool take = keys->take != 0 && (code == keys->take || (is_enter(code) && is_enter(keys->take)) ||
                                    (is_backspace(code) && is_backspace(keys->take)));
    effect.press.key = take ? THRUM_KEY_TAKE : action_of(code);
    if (effect.press.key == THRUM_KEY_NONE)
        change_picture(&effect, view, code);
    else
        view->help = view->log = view->inputs = false;
    view->inputs = view->inputs || effect.press.key == THRUM_KEY_LOOK;
    return effect;
}
