/* Codes from the keyboard in, key presses out. Touches no terminal. */
#ifndef THRUM_SCREEN_KEYS_H
#define THRUM_SCREEN_KEYS_H

#include <stdbool.h>

#include "screen/screen.h"

/* Keys that come as one code from ncurses, under names of our own. */
enum key_code {
    KEY_CODE_RIGHT = 0x200000,
    KEY_CODE_LEFT,
    KEY_CODE_ENTER,
    KEY_CODE_BACKSPACE,
    KEY_CODE_PAGE_DOWN,
    KEY_CODE_PAGE_UP,
    KEY_CODE_UP,
    KEY_CODE_DOWN,
    KEY_CODE_HOME,
    KEY_CODE_END,
    KEY_CODE_F1, /* and so on up to F12 */
    KEY_CODE_F12 = KEY_CODE_F1 + 11,
    KEY_CODE_OTHER /* any other key with a name; does nothing */
};

/* Where an escape sequence that nobody knows stands. */
enum key_escape {
    KEY_ESCAPE_NONE,
    KEY_ESCAPE_BEGUN,    /* ESC has come */
    KEY_ESCAPE_FIRST,    /* ESC [ or ESC O: the next byte is the first of the sequence */
    KEY_ESCAPE_SEQUENCE, /* further bytes; ends with a letter or ~ */
    KEY_ESCAPE_TEXT      /* ESC ] P _ ^: ends with BEL or ESC */
};

struct keys {
    enum key_escape escape;
    int number;   /* the sequence's, so far */
    bool pasting; /* between the two sequences that a terminal puts around what is pasted */
    int end_seen; /* so many bytes of the second one */
    int take;     /* one more code that means "take", whatever else it would mean; 0: none */
};

/* What a code did. */
struct key_effect {
    struct thrum_key_press press; /* for the caller */
    bool next_look;               /* the look is to be changed; everything else that changes is in the view */
};

/* The code of a key by its name: one character, "pagedown", "f5", ...; 0 when there is no such. */
int keys_named(const char *name);

/* Takes one code: a byte of UTF-8, or a key_code. Changes the view when the key concerns only the picture. What is pasted is no
 * key. */
struct key_effect keys_take(struct keys *keys, struct thrum_screen_view *view, int code);

/* No code has come for so long. A paste or an escape sequence whose end was lost on the way is then over: it comes in one go, and must not
 * swallow keys for ever. */
void keys_rest(struct keys *keys, double silent_s);

#endif
