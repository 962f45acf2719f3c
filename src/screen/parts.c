#include "screen/parts.h"

struct key_help {
    const char *key;
    const char *narrow;
    const char *does;
};

static const struct key_help key_help[] = {
    {"space", "space", "begin a touch, end it (also enter, Page Down)"},
    {"n  p", "n p", "next wire, previous wire (also right, left)"},
    {"1 7 enter", "1 7", "go to wire 17 (then enter)"},
    {"g", "g", "go to any wire: type its tag, then enter"},
    {"w", "w", "go on with wires not touched yet"},
    {"a", "a", "all wires once more, in order"},
    {"r", "r", "touch the last wire once more"},
    {"u", "u", "undo the last touch (also backspace)"},
    {"d", "d", "drop the last touch of this wire"},
    {"x", "x", "this wire cannot be it; again: it can"},
    {"<", "<", "touched twice: it belongs one tag lower, what follows too"},
    {">", ">", "skipped one: it belongs one tag higher, what follows too"},
    {"i", "i", "input lost: look for it now, or take another"},
    {"m", "m", "the sender has moved: measure it where it is"},
    {"f", "f", "finish: the pick stands"},
    {"q", "q", "leave"},
    {"s", "s", "show the next sender"},
    {"z", "z", "hold the picture; the sound goes on"},
    {"l", "l", "last lines of the log"},
    {"c", "c", "another look: colours, bright sun, dark cellar"},
    {"h ?", "h", "this help"},
};
#define KEY_HELPS ((int)(sizeof key_help / sizeof key_help[0]))

void part_help(struct canvas *canvas, struct area area)
{
    int columns = area.rows < KEY_HELPS && area.cols >= 110 ? 2 : 1;
    int rows = (KEY_HELPS + columns - 1) / columns;
    int width = area.cols / columns, key_cols = area.cols < 40 ? 6 : 11;
    for (int i = 0; i < KEY_HELPS; i++) {
        struct area part = area;
        part.col += i / rows * width;
        part.cols = width;
        canvas_put(canvas, part, i % rows, key_cols, THRUM_INK_TEXT, key_help[i].does);
        part.cols = key_cols - 1;
        canvas_put(canvas, part, i % rows, 0, THRUM_INK_STRONG,
                   area.cols < 40 ? key_help[i].narrow : key_help[i].key);
    }
}

/* The newest line is the one that matters: older ones as far as there is room above it. */
static int first_log_line(const struct canvas *canvas, const struct thrum_screen_facts *facts, int n,
                          struct area area)
{
    int first = n;
    while (first > 0) {
        area.rows -= canvas_rows(canvas->utf8, facts->log[first - 1], area.cols);
        if (area.rows < 0 && first < n)
            break;
        first--;
    }
    return first;
}

void part_log(struct canvas *canvas, struct area area, const struct scene *scene)
{
    int n = scene->facts->n_log < THRUM_FACT_LOGS ? scene->facts->n_log : THRUM_FACT_LOGS;
    int row = canvas_put_wrapped(canvas, area, 0, THRUM_INK_DIM,
                                 n == 0           ? "The log is empty (l goes back)."
                                 : area.cols < 36 ? "Log (l goes back):"
                                                  : "Last lines of the log (l goes back):");
    for (int i = first_log_line(canvas, scene->facts, n, area_below(area, row)); i < n; i++)
        row += canvas_put_wrapped(canvas, area, row, THRUM_INK_TEXT, scene->facts->log[i]);
}

void part_inputs(struct canvas *canvas, struct area area, const struct scene *scene)
{
    const struct thrum_screen_facts *facts = scene->facts;
    bool narrow = area.cols < 60;
    int row = canvas_put_wrapped(canvas, area, 0, THRUM_INK_ALARM,
                                 narrow ? "INPUT LOST. i looks"
                                        : "INPUT LOST: it is looked for every 2 s; i looks at once.");
    int n = facts->n_inputs < THRUM_FACT_INPUTS ? facts->n_inputs : THRUM_FACT_INPUTS;
    row +=
        canvas_put_wrapped(canvas, area_below(area, row), 0, THRUM_INK_TEXT,
                           n == 0   ? "There is no other input."
                           : narrow ? "or take another:"
                                    : "A number takes another one in its place; touches made before are then "
                                      "kept, but not compared with those that follow:");
    for (int i = 0; i < n; i++) {
        struct words words = {.text = ""};
        words_add(&words, "%d  %s", i + 1, facts->inputs[i]);
        canvas_put(canvas, area, row + i, 0, THRUM_INK_STRONG, words.text);
    }
    row += n;
    if (!narrow)
        canvas_put(canvas, area, row + 1, 0, THRUM_INK_DIM, "escape goes back to the round");
}

static const char *const key_rows[] = {
    "space touch  n next  p back  1 2 enter go to  r repeat  u undo  x not it  f finish  q leave  h all keys",
    "space touch  n next  p back  r repeat  u undo  x not it  f finish  q leave  h keys",
    "space touch n next p back r repeat u undo x not it f finish q leave h keys",
    "space touch n next p back u undo f finish q leave h keys",
    "space touch  h keys",
};

void part_keys(struct canvas *canvas, struct area area, const struct scene *scene,
               const struct thrum_screen_view *view)
{
    struct words words = {.text = ""};
    if (view->entering) {
        words_add(&words, "Go to wire: %s_", view->entry);
        int used = canvas_put(canvas, area, 0, 0, THRUM_INK_STRONG, words.text);
        canvas_put(canvas, area, 0, used + 3, THRUM_INK_DIM, "enter goes there, escape does not");
        return;
    }
    if (scene->snapshot->finished) {
        canvas_put(canvas, area, 0, 0, THRUM_INK_DIM, "q leave  h all keys");
        return;
    }
    for (size_t i = 0; i < sizeof key_rows / sizeof key_rows[0]; i++)
        if (canvas_width(canvas->utf8, key_rows[i]) <= area.cols) {
            canvas_put(canvas, area, 0, 0, THRUM_INK_DIM, key_rows[i]);
            return;
        }
}

void part_numbers(struct canvas *canvas, struct area area, const struct scene *scene)
{
    const struct thrum_snapshot *snapshot = scene->snapshot;
    struct words now = {.text = ""}, best = {.text = ""};
    bool reading = !words_no_sound(scene) && snapshot->touching && snapshot->so_far.frames > 0 &&
                   scene->sender >= 0 && snapshot->so_far.strength[scene->sender].heard;
    words_add(&now, reading ? "this touch " : "strength now ");
    words_level(&now, scene->dbfs);
    words_add(&now, " dBFS");
    canvas_put(canvas, area, 0, 0, THRUM_INK_STRONG, now.text);
    words_add(&best, "best so far ");
    words_level(&best, scene->sender < 0 ? THRUM_FLOOR_DBFS : snapshot->now.best_dbfs[scene->sender]);
    words_add(&best, " dBFS");
    canvas_put_right(canvas, area, 0, THRUM_INK_TEXT, best.text);
}

static int head_input_cols(const struct canvas *canvas, struct area area, const char *recording)
{
    int right = canvas_width(canvas->utf8, recording);
    return area.cols > right + 2 ? area.cols - right - 2 : 0;
}

/* In few words where there is no room for more beside the input. */
static void say_recording(struct words *words, const struct canvas *canvas, struct area area,
                          const struct scene *scene)
{
    struct words input = {.text = ""}, whole = {.text = ""};
    words_input(&input, scene);
    words_recording(&whole, scene);
    if (area.cols < 40 || canvas_width(canvas->utf8, input.text) > head_input_cols(canvas, area, whole.text))
        words_recording_narrow(words, scene);
    else
        words_recording(words, scene);
}

bool part_head_says_practice(const struct canvas *canvas, struct area area, const struct scene *scene)
{
    struct words recording = {.text = ""};
    say_recording(&recording, canvas, area, scene);
    return head_input_cols(canvas, area, recording.text) >= canvas_width(canvas->utf8, "PRACTICE");
}

void part_head(struct canvas *canvas, struct area area, const struct scene *scene)
{
    struct words input = {.text = ""}, recording = {.text = ""};
    words_input(&input, scene);
    say_recording(&recording, canvas, area, scene);
    struct area left = area;
    left.cols = head_input_cols(canvas, area, recording.text);
    if (canvas_width(canvas->utf8, input.text) > left.cols) { /* a time cut short is a wrong time */
        input.text[0] = 0;
        words_input_name(&input, scene);
    }
    canvas_put(canvas, left, 0, 0, scene->facts->practice ? THRUM_INK_STRONG : THRUM_INK_TEXT, input.text);
    canvas_put_right(canvas, area, 0, words_recording_ink(scene), recording.text);
}
