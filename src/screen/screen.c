#include "screen/screen.h"

#include <langinfo.h>
#include <ncurses.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <term.h>
#include <time.h>
#include <unistd.h>

#include "screen/guard.h"
#include "screen/ink.h"
#include "screen/keys.h"
#include "screen/level_hold.h"
#include "screen/pace.h"
#include "screen/words.h"

/* Pasted text is to be marked as such: DEC private mode 2004, in xterm's ctlseqs document. */
#define MARK_PASTES  "\x1b[?2004h"
#define LEAVE_PASTES "\x1b[?2004l"

#define RUN_BYTES 10 /* to place the cursor and change the ink */

struct thrum_screen {
    SCREEN *curses;
    FILE *keyboard;
    bool own_keyboard; /* opened here */
    int key_fd;        /* -1 when there are no more keys */
    bool guarded;
    double code_s;     /* when the last byte came from the keyboard */
    bool marks_pastes; /* the terminal speaks the language in which that is asked for */
    bool colours;
    bool held_drawn; /* the held picture is on the screen */
    bool repaint;    /* the terminal may show something else than we think */
    bool left;       /* it was left without the modes being ours to set */
    enum thrum_screen_look look;
    struct ink_table ink;
    struct thrum_screen_view view;
    struct keys keys;
    struct level_hold level;
    struct pace pace;
    int rows; /* of the last picture */
    int cols;
    struct thrum_cell cells[THRUM_SCREEN_MAX_ROWS * THRUM_SCREEN_MAX_COLS];
    bool painted; /* what follows is what curses has, of the same size, in the same ink */
    struct thrum_cell shown[THRUM_SCREEN_MAX_ROWS * THRUM_SCREEN_MAX_COLS];
};

struct thrum_screen_config thrum_screen_config_default(void)
{
    const char *no_colour = getenv("NO_COLOR");
    return (struct thrum_screen_config){
        .no_colour = no_colour && no_colour[0],
        .look = THRUM_LOOK_COLOUR,
        .log_fd = -1,
    };
}

/* --- Taking and giving back ---------------------------------------------------------------------------------- */

static const char *capability(const char *name)
{
    char *text = tigetstr(name);
    return text && text != (char *)-1 ? text : NULL;
}

/* Whether the terminal can place its cursor; asked before anything of it is touched. */
static bool terminal_will_do(void)
{
    int error = 0;
    const char *term = getenv("TERM");
    if (!isatty(STDOUT_FILENO) || !term || !term[0])
        return false;
    if (setupterm(NULL, STDOUT_FILENO, &error) != OK)
        return false;
    bool good = capability("cup") && capability("clear");
    del_curterm(cur_term);
    return good;
}

static bool open_keyboard(struct thrum_screen *screen)
{
    screen->key_fd = STDIN_FILENO;
    screen->keyboard = stdin;
    if (isatty(STDIN_FILENO))
        return true;
    screen->own_keyboard = true;
    screen->keyboard = fopen("/dev/tty", "r");
    screen->key_fd = screen->keyboard ? fileno(screen->keyboard) : -1;
    if (!screen->keyboard)
        screen->keyboard = fopen("/dev/null", "r");
    return screen->keyboard != NULL;
}

static const char *const leaving[] = {"rmkx", "sgr0", "op", "cnorm", "rmcup"};

static bool speaks_ansi(void)
{
    const char *move_cursor = capability("cup");
    return move_cursor && strncmp(move_cursor, "\x1b[", 2) == 0;
}

static void mark_pastes(const struct thrum_screen *screen, bool on)
{
    if (screen->marks_pastes &&
        write(STDOUT_FILENO, on ? MARK_PASTES : LEAVE_PASTES, strlen(MARK_PASTES)) < 0)
        return; /* a terminal that is gone pastes nothing */
}

static void remember_how_to_leave(const struct thrum_screen *screen)
{
    if (screen->marks_pastes)
        guard_add_leaving(LEAVE_PASTES);
    for (size_t i = 0; i < sizeof leaving / sizeof leaving[0]; i++)
        if (capability(leaving[i]))
            guard_add_leaving(capability(leaving[i]));
}

static void set_up_curses(struct thrum_screen *screen, const struct thrum_screen_config *config)
{
    screen->marks_pastes = speaks_ansi();
    remember_how_to_leave(screen);
    mark_pastes(screen, true);
    if (!getenv("ESCDELAY"))
        set_escdelay(100);
    cbreak();
    noecho();
    nonl();
    keypad(stdscr, TRUE);
    nodelay(stdscr, TRUE);
    typeahead(-1);                       /* a picture is drawn whole; keys are read between two */
    leaveok(stdscr, curs_set(0) != ERR); /* a cursor that cannot be hidden stands still in the corner */
    screen->colours = !config->no_colour && has_colors() && start_color() == OK;
    if (screen->colours)
        use_default_colors();
    screen->look = screen->colours && config->look < THRUM_LOOKS ? config->look : THRUM_LOOK_PLAIN;
    screen->ink = ink_table_for(screen->look, screen->colours);
    screen->pace.bytes_s = pace_of_line(STDOUT_FILENO);
    screen->view.utf8 = !config->ascii && strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

enum thrum_status thrum_screen_create(const struct thrum_screen_config *config, struct thrum_screen **screen)
{
    *screen = NULL;
    if (!terminal_will_do())
        return THRUM_ERR_UNSUPPORTED;
    struct thrum_screen *made = calloc(1, sizeof *made);
    if (!made)
        return THRUM_ERR_MEM;
    if (!open_keyboard(made))
        goto fail;
    made->guarded = guard_begin(STDOUT_FILENO, config->log_fd);
    if (!made->guarded)
        goto fail;
    made->keys.take = config->take_key ? keys_named(config->take_key) : 0;
    made->curses = newterm(NULL, stdout, made->keyboard);
    if (!made->curses)
        goto fail;
    set_up_curses(made, config);
    *screen = made;
    return THRUM_OK;
fail:
    thrum_screen_destroy(made);
    return THRUM_ERR_UNSUPPORTED;
}

void thrum_screen_destroy(struct thrum_screen *screen)
{
    if (!screen)
        return;
    if (screen->curses) {
        if (guard_has_terminal() && !isendwin()) {
            guard_let_flow();
            mark_pastes(screen, false);
            endwin();
        }
        delscreen(screen->curses);
    }
    if (screen->guarded)
        guard_end();
    if (screen->own_keyboard && screen->keyboard)
        fclose(screen->keyboard);
    free(screen);
}

/* --- Drawing ------------------------------------------------------------------------------------------------- */

static void follow_size(void)
{
    struct winsize size;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_row == 0 || size.ws_col == 0)
        return;
    if (size.ws_row != LINES || size.ws_col != COLS)
        resize_term(size.ws_row, size.ws_col);
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static bool takes_more(void)
{
    struct pollfd fd = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&fd, 1, 0) == 1 && (fd.revents & POLLOUT);
}

/* The part of a row that curses does not have yet, from *from to before *to: a wide character whole. */
static void find_change(const struct thrum_screen *screen, int row, int *from, int *to)
{
    const struct thrum_cell *cell = &screen->cells[row * screen->cols];
    const struct thrum_cell *shown = &screen->shown[row * screen->cols];
    *from = 0;
    *to = screen->cols;
    if (!screen->painted)
        return;
    while (*from < *to && memcmp(&cell[*from], &shown[*from], sizeof *cell) == 0)
        ++*from;
    while (*to > *from && memcmp(&cell[*to - 1], &shown[*to - 1], sizeof *cell) == 0)
        --*to;
    while (*from > 0 && *from < *to && (!cell[*from].glyph[0] || !shown[*from].glyph[0]))
        --*from;
}

/* What curses will send for a row, in bytes. */
static size_t bytes_of_row(const struct thrum_screen *screen, int row)
{
    const struct thrum_cell *cell = &screen->cells[row * screen->cols];
    const struct thrum_cell *shown = &screen->shown[row * screen->cols];
    size_t bytes = 0;
    int last = -1; /* ...column that is sent */
    for (int col = 0; col < screen->cols; col++) {
        bool same = screen->painted ? memcmp(&cell[col], &shown[col], sizeof *cell) == 0
                                    : strcmp(cell[col].glyph, " ") == 0;
        if (same)
            continue;
        if (last < 0 || last < col - 1 || cell[col].ink != cell[last].ink)
            bytes += RUN_BYTES;
        bytes += strlen(cell[col].glyph);
        last = col;
    }
    return bytes;
}

/* One row: runs of equal ink in one go. */
static void paint_row(struct thrum_screen *screen, int row)
{
    const struct thrum_cell *cell = &screen->cells[row * screen->cols];
    struct thrum_cell *shown = &screen->shown[row * screen->cols];
    char run[THRUM_SCREEN_MAX_COLS * sizeof cell->glyph + 1];
    int col, end;
    find_change(screen, row, &col, &end);
    memcpy(&shown[col], &cell[col], (size_t)(end - col) * sizeof *cell);
    while (col < end) {
        int first = col;
        size_t n = 0;
        for (; col < end && cell[col].ink == cell[first].ink; col++) {
            size_t bytes = strlen(cell[col].glyph);
            memcpy(run + n, cell[col].glyph, bytes);
            n += bytes;
        }
        run[n] = 0;
        attrset((int)screen->ink.attributes[cell[first].ink % THRUM_INKS]);
        mvaddstr(row, first, run);
    }
}

/* Only what has changed: curses compares character by character, which is most of what a picture costs. Returns the bytes that
 * go out for it, or nearly so. */
static size_t paint(struct thrum_screen *screen)
{
    size_t bytes = 0;
    if (!screen->painted) {
        bkgdset(screen->ink.ground | ' ');
        erase();
    }
    for (int row = 0; row < screen->rows; row++) {
        bytes += bytes_of_row(screen, row);
        paint_row(screen, row);
    }
    screen->painted = true;
    if (screen->repaint)
        clearok(curscr, TRUE);
    screen->repaint = false;
    move(screen->rows - 1, screen->cols - 1);
    refresh();
    return bytes;
}

void thrum_screen_draw(struct thrum_screen *screen, const struct thrum_snapshot *snapshot,
                       const struct thrum_screen_facts *facts)
{
    if (!guard_has_terminal()) {
        screen->repaint = true;
        return;
    }
    if (!takes_more() || !pace_allows(&screen->pace, now_s()))
        return;
    if (screen->repaint && screen->left)
        endwin(); /* and the next refresh begins anew */
    else if (screen->repaint && !isendwin())
        reset_prog_mode(); /* we were stopped without being asked; the shell has set its own modes */
    if (screen->repaint)
        mark_pastes(screen, true); /* a shell that was there meanwhile has its own way */
    screen->left = false;
    follow_size();
    int rows = LINES < THRUM_SCREEN_MAX_ROWS ? LINES : THRUM_SCREEN_MAX_ROWS;
    int cols = COLS < THRUM_SCREEN_MAX_COLS ? COLS : THRUM_SCREEN_MAX_COLS;
    if (screen->view.sender >= snapshot->n_senders)
        screen->view.sender = 0;
    if (facts->input_state == THRUM_INPUT_LOST)
        screen->view.held = false; /* a held picture must not hide that */
    else
        screen->view.inputs = false; /* there is nothing to choose */
    bool held_still = screen->view.held && screen->held_drawn && rows == screen->rows && cols == screen->cols;
    level_hold(&screen->level, &screen->view, snapshot, facts);
    if (!held_still)
        thrum_screen_compose(snapshot, facts, &screen->view, screen->cells, rows, cols);
    screen->held_drawn = screen->view.held;
    if (rows != screen->rows || cols != screen->cols || screen->repaint)
        screen->painted = false;
    screen->rows = rows;
    screen->cols = cols;
    pace_drew(&screen->pace, now_s(), paint(screen));
}

/* --- Keys ---------------------------------------------------------------------------------------------------- */

static void stop_and_go_on(struct thrum_screen *screen)
{
    /* The rest of the job, a script that we were started from, may have stopped already, and its shell may take the
     * terminal at any moment. */
    guard_hold_background(true);
    screen->left = !guard_has_terminal();
    if (screen->left) {
        guard_write_leaving();
    } else {
        guard_let_flow();
        mark_pastes(screen, false);
        endwin();
    }
    guard_hold_background(false);
    guard_release_stderr();
    guard_stop_job();
    guard_divert_stderr();
    screen->repaint = true;
}

static int code_from_curses(int code)
{
    switch (code) {
    case KEY_RIGHT:
        return KEY_CODE_RIGHT;
    case KEY_LEFT:
        return KEY_CODE_LEFT;
    case KEY_ENTER:
        return KEY_CODE_ENTER;
    case KEY_BACKSPACE:
        return KEY_CODE_BACKSPACE;
    case KEY_NPAGE:
        return KEY_CODE_PAGE_DOWN;
    case KEY_PPAGE:
        return KEY_CODE_PAGE_UP;
    case KEY_UP:
        return KEY_CODE_UP;
    case KEY_DOWN:
        return KEY_CODE_DOWN;
    case KEY_HOME:
        return KEY_CODE_HOME;
    case KEY_END:
        return KEY_CODE_END;
    default:
        if (code >= KEY_F(1) && code <= KEY_F(12))
            return KEY_CODE_F1 + code - KEY_F(1);
        return code > 0xFF ? KEY_CODE_OTHER : code;
    }
}

/* The window was closed or the line dropped: nobody can see or say anything any more. */
static bool terminal_gone(void)
{
    struct pollfd out = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&out, 1, 0) > 0 && (out.revents & (POLLHUP | POLLERR | POLLNVAL));
}

/* The keyboard answers "readable" and has nothing: it has ended. */
static bool keyboard_ended(int fd)
{
    struct pollfd keys = {.fd = fd, .events = POLLIN};
    int waiting = 0;
    if (poll(&keys, 1, 0) <= 0)
        return false;
    if (keys.revents & (POLLHUP | POLLERR | POLLNVAL))
        return true;
    return (keys.revents & POLLIN) && (ioctl(fd, FIONREAD, &waiting) != 0 || waiting == 0);
}

static void next_look(struct thrum_screen *screen)
{
    if (!screen->colours)
        return;
    screen->look = (enum thrum_screen_look)((screen->look + 1) % THRUM_LOOKS);
    screen->ink = ink_table_for(screen->look, screen->colours);
    screen->repaint = true;
}

/* True when a signal asks the caller for something; the others are dealt with here. */
static bool quit_by_signal(struct thrum_screen *screen)
{
    for (;;) {
        switch (guard_wish()) {
        case GUARD_NOTHING:
            return false;
        case GUARD_QUIT:
            return true;
        case GUARD_STOP:
            stop_and_go_on(screen);
            break;
        case GUARD_GO_ON:
            screen->repaint = true;
            break;
        }
    }
}

bool thrum_screen_key(struct thrum_screen *screen, struct thrum_key_press *press)
{
    *press = (struct thrum_key_press){.key = THRUM_KEY_NONE};
    if (quit_by_signal(screen)) {
        press->key = THRUM_KEY_QUIT;
        return true;
    }
    if (screen->key_fd < 0 || !guard_has_terminal() || isendwin())
        return false;
    int code = getch();
    if (code == ERR) {
        keys_rest(&screen->keys, now_s() - screen->code_s);
        if (!keyboard_ended(screen->key_fd))
            return false;
        screen->key_fd = -1;
        if (!terminal_gone())
            return false;
        press->key = THRUM_KEY_QUIT;
        return true;
    }
    if (code == KEY_RESIZE)
        return true; /* the next picture has the new size */
    screen->code_s = now_s();
    struct key_effect effect = keys_take(&screen->keys, &screen->view, code_from_curses(code));
    if (effect.next_look)
        next_look(screen);
    *press = effect.press;
    return true;
}

int thrum_screen_key_fd(const struct thrum_screen *screen)
{
    return screen->key_fd;
}
