/** @file screen.h
 *  The live screen: draws a snapshot, reads keys, decides nothing. Knows nothing of sound.
 *
 *  Two halves. The pure one turns a snapshot and the program's facts into rows of cells, or into one line of
 *  text; it touches no terminal, so every size can be tested. The other one paints cells with ncurses and reads
 *  keys. All calls belong to the main thread; there is at most one screen at a time, because a process has one
 *  terminal and one set of signal handlers.
 *
 *  main() has called setlocale(LC_CTYPE, "") before. Nothing here is drawn more often than it is asked for:
 *  at most 20 draws a second is the caller's part.
 */
#ifndef THRUM_SCREEN_H
#define THRUM_SCREEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/round.h"
#include "thrum/status.h"

/* --- What is drawn beside the snapshot ------------------------------------------------------------------- */

#define THRUM_FACT_TEXT   256
#define THRUM_FACT_LOGS   8
#define THRUM_FACT_INPUTS 9

enum thrum_input_state {
    THRUM_INPUT_LIVE, /**< Sound is coming in. */
    THRUM_INPUT_WAIT, /**< Opened, nothing has come yet. */
    THRUM_INPUT_LOST, /**< The device is gone; message says what to do. */
    THRUM_INPUT_ENDED /**< The file has ended, or the input was closed. */
};

enum thrum_record_state {
    THRUM_RECORD_OFF,
    THRUM_RECORD_ON,
    THRUM_RECORD_FAILED /**< It was on and had to stop; what was written is kept. */
};

/** What the program knows and the snapshot does not. A value; all zero is a valid one. Text is UTF-8, cut where
 *  it does not fit, control characters are shown as '?'. */
struct thrum_screen_facts {
    char input[THRUM_FACT_TEXT]; /**< Name of the input: a device, a file, a practice bundle. */
    bool live;                   /**< A device: cannot be waited for. */
    bool practice;               /**< Simulated sound: said on the screen, from 20x5 on. */
    bool hands_free;             /**< Touches are taken by themselves. */
    bool no_keys;                /**< There is no way to press one. */
    enum thrum_input_state input_state;
    double length_s; /**< Of a file; 0 when unknown. */
    enum thrum_record_state record;
    double recorded_s;    /**< Frames really written over the rate. */
    uint64_t lost_frames; /**< Frames lost on the way in so far. */
    char
        message[THRUM_FACT_TEXT]; /**< One line for the user, "" for none: "INPUT LOST - plug it in again". */
    char moved
        [THRUM_FACT_TEXT]; /**< Where the sender was found instead, as a sentence; "" where it was not. */
    int n_inputs;          /**< Inputs there are while one is lost: any of them can take its place. */
    char inputs[THRUM_FACT_INPUTS][THRUM_FACT_TEXT]; /**< [n_inputs] */
    int n_log;
    char log[THRUM_FACT_LOGS][THRUM_FACT_TEXT]; /**< Last lines of the log, oldest first. [n_log] */
};

/* --- The pure half --------------------------------------------------------------------------------------- */

/** What a cell means; the painter chooses the attributes. Text alone must say the same. */
enum thrum_ink {
    THRUM_INK_TEXT,
    THRUM_INK_DIM,    /**< Less important. */
    THRUM_INK_STRONG, /**< More important. */
    THRUM_INK_BAR,    /**< The filled part of the bar. */
    THRUM_INK_MARK,   /**< The hold mark. */
    THRUM_INK_GOOD,
    THRUM_INK_WARN,
    THRUM_INK_ALARM
};
#define THRUM_INKS 8

/** One character place. */
struct thrum_cell {
    char
        glyph[15]; /**< UTF-8 of one printable character and what combines with it; "" right of a wide one. */
    uint8_t ink;   /**< enum thrum_ink */
};

/** How it is to look. All zero is the plainest. */
struct thrum_screen_view {
    bool utf8;                       /**< Block characters and UTF-8 tags may be used; else ASCII only. */
    int sender;                      /**< Which sender is shown, from 0; beyond the last: the last. */
    bool help;                       /**< The keys are explained instead. */
    bool log;                        /**< The last log lines are shown instead of the ranking. */
    bool inputs;                     /**< The inputs to choose from are shown, where one is lost. */
    bool held;                       /**< The picture is held; says so. */
    bool pasted;                     /**< Something was pasted, and is ignored; says so until the next key. */
    char entry[THRUM_WIRE_TAG_SIZE]; /**< Tag being typed. */
    bool entering;                   /**< A tag is being typed. */
    bool level_held;                 /**< The level in figures is this one, not the snapshot's. */
    double level_dbfs;               /**< dBFS; counts where level_held. */
};

/** Larger screens are used up to this size. */
#define THRUM_SCREEN_MAX_COLS 240
#define THRUM_SCREEN_MAX_ROWS 80

/**
 * Compose the picture.
 *
 * @param[out] cells  Every one is filled. Shape [rows][cols]; NULL allowed when rows or cols is 0.
 * @param[in]  rows   0 to THRUM_SCREEN_MAX_ROWS; more are left alone.
 * @param[in]  cols   0 to THRUM_SCREEN_MAX_COLS.
 */
void thrum_screen_compose(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                          const struct thrum_screen_view *view, struct thrum_cell *cells, int rows, int cols);

/**
 * The same information as one line of text, without a line end: what plain mode prints, at most once a second,
 * when it changes. ASCII, but for the tags. What changes seldom is told by the lines after this one.
 *
 * @param[out] line  Always closed with a zero, cut between characters. Not NULL when size > 0.
 * @return Bytes written, without the zero.
 */
size_t thrum_screen_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                         char *line, size_t size);

/** What the head of the picture says, as a line: the input and the recording. To be told when they change. As
 *  thrum_screen_line(). */
size_t thrum_screen_input_line(const struct thrum_snapshot *snapshot, const struct thrum_screen_facts *facts,
                               char *line, size_t size);

/** The ranking of a sender (0 to n_senders - 1) as a line, and what else is worth saying; to be told after each touch. Empty
 *  before the first. As thrum_screen_line(). */
size_t thrum_screen_ranking_line(const struct thrum_snapshot *snapshot,
                                 const struct thrum_screen_facts *facts, int sender, char *line, size_t size);

/** Ends of the bar's scale, dBFS. The scale stands still, so that two wires are compared by the same rule. */
#define THRUM_BAR_LOW_DBFS  (-100.0)
#define THRUM_BAR_HIGH_DBFS 0.0

/** Place of a level on a bar: 0 at the low end and below and for NaN, 1 at the high end and above. */
double thrum_screen_bar(double dbfs);

/* --- Keys ------------------------------------------------------------------------------------------------ */

enum thrum_key {
    THRUM_KEY_NONE,       /**< Nothing was pressed, or nothing that concerns the caller. */
    THRUM_KEY_TAKE,       /**< space, enter, Page Down */
    THRUM_KEY_NEXT,       /**< n, right */
    THRUM_KEY_PREVIOUS,   /**< p, left */
    THRUM_KEY_GO_TO,      /**< digits, or g and any tag, then enter: tag says where. */
    THRUM_KEY_NEW,        /**< w */
    THRUM_KEY_ALL_AGAIN,  /**< a */
    THRUM_KEY_REPEAT,     /**< r */
    THRUM_KEY_UNDO,       /**< u, backspace */
    THRUM_KEY_DROP,       /**< d */
    THRUM_KEY_EXCLUDE,    /**< x */
    THRUM_KEY_TAG_LOWER,  /**< <: the touch belongs one tag lower */
    THRUM_KEY_TAG_HIGHER, /**< >: one higher */
    THRUM_KEY_FOLLOW,     /**< m: measure the sender where it was found. */
    THRUM_KEY_LOOK,       /**< i: look for a lost input now. */
    THRUM_KEY_INPUT,  /**< i, then 1 to 9: that one of the facts' inputs in its place; tag has the digit. */
    THRUM_KEY_FINISH, /**< f */
    THRUM_KEY_QUIT    /**< q, Q, the terminal has gone, or INT, TERM, HUP. */
};

/** What thrum_screen_key() answers. */
struct thrum_key_press {
    enum thrum_key key;
    char tag[THRUM_WIRE_TAG_SIZE]; /**< For THRUM_KEY_GO_TO and THRUM_KEY_INPUT, else "". */
};

/* --- The terminal half ----------------------------------------------------------------------------------- */

enum thrum_screen_look {
    THRUM_LOOK_PLAIN,  /**< The terminal's own colours, bold and reverse at most. */
    THRUM_LOOK_COLOUR, /**< A few colours, readable on light and dark ground. */
    THRUM_LOOK_SUN,    /**< Bright sun: black on white all over, everything bold. */
    THRUM_LOOK_CELLAR  /**< Dark cellar: dim red on black, nothing bright. */
};
#define THRUM_LOOKS 4

struct thrum_screen;

struct thrum_screen_config {
    bool ascii;                  /**< ASCII only, whatever the locale. */
    bool no_colour;              /**< As if the terminal had none (NO_COLOR set, --no-colour). */
    enum thrum_screen_look look; /**< Needs colours; falls back to THRUM_LOOK_PLAIN. */
    const char
        *take_key; /**< One more key that means "take": any that thrum_screen_knows_key(); NULL for none. */
    int log_fd;    /**< Standard error goes here while the screen is up; -1: it is left alone. Not closed. */
};

/** Whether it is the name of a key: one character, space, enter, tab, backspace, left, right, up, down, home, end, pageup,
 *  pagedown, f1 to f12; in capitals or not. */
bool thrum_screen_knows_key(const char *name);

/** Colours on unless NO_COLOR is set, log_fd = -1. */
struct thrum_screen_config thrum_screen_config_default(void);

/**
 * Take the terminal: standard output; keys come from standard input when that is a terminal, else from the
 * controlling terminal, else there are none.
 *
 * What is pasted is told apart from keys where the terminal can ("bracketed paste"), and ignored.
 *
 * Restores the terminal by itself when the process dies of SEGV, BUS, ILL, FPE, ABRT, SYS or QUIT, stops (TSTP)
 * and goes on (CONT). INT, TERM and HUP become THRUM_KEY_QUIT; a handler that the caller installed before is called
 * as well. Everything is put back by thrum_screen_destroy().
 *
 * @param[out] screen  Owned by the caller, or NULL on error.
 * @retval THRUM_OK
 * @retval THRUM_ERR_UNSUPPORTED  Standard output is no terminal, or one that cannot place its cursor (TERM unset,
 *                                unknown or dumb), or a screen is up already: print lines instead.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_screen_create(const struct thrum_screen_config *config, struct thrum_screen **screen);

/** Give the terminal back as it was. NULL is allowed. Errors of the terminal are ignored: it may be gone. */
void thrum_screen_destroy(struct thrum_screen *screen);

/**
 * Draw. Follows the window's size by itself. Drops the picture rather than wait when the terminal takes no more
 * (stopped with Ctrl-S, slow line) or belongs to another job.
 */
void thrum_screen_draw(struct thrum_screen *screen, const struct thrum_snapshot *snapshot,
                       const struct thrum_screen_facts *facts);

/**
 * The next key press, without waiting. Call it until it returns false. Carries out a suspend (Ctrl-Z): it
 * then returns when the job goes on. Keys that only change the picture (h help, l log, z hold, s next sender,
 * c look, digits of a tag) are carried out here: true with THRUM_KEY_NONE.
 *
 * @param[out] press  Not NULL.
 * @return false when nothing (more) was pressed.
 */
bool thrum_screen_key(struct thrum_screen *screen, struct thrum_key_press *press);

/** File descriptor that becomes readable when a key is pressed, for poll(); -1 when there are no (more) keys. */
int thrum_screen_key_fd(const struct thrum_screen *screen);

#endif
