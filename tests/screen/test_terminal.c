/* The screen on a real terminal line (a pty): what it shows, what keys do, and that the terminal is given back
 * after every way a program can end. The program under test is this one, started again as "demo". */
#include "check.h"

#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "scenes.h"

static const char *self; /* path of this program */

/* --- The program under test ---------------------------------------------------------------------------------- */

static const char *const key_names[] = {"none",    "take",  "next",   "previous", "goto",
                                        "new",     "again", "repeat", "undo",     "drop",
                                        "exclude", "lower", "higher", "finish",   "quit"};

static bool take_keys(struct thrum_screen *screen, struct thrum_screen_facts *facts, int *count)
{
    struct thrum_key_press press;
    while (thrum_screen_key(screen, &press)) {
        if (press.key == THRUM_KEY_QUIT)
            return false;
        if (press.key != THRUM_KEY_NONE)
            snprintf(facts->message, sizeof facts->message, "K%d=%s%s", ++*count, key_names[press.key],
                     press.tag);
    }
    return true;
}

static int demo(int argc, char **argv)
{
    struct thrum_snapshot *snapshot = calloc(1, sizeof *snapshot);
    struct thrum_screen_facts facts;
    struct thrum_screen_config config = thrum_screen_config_default();
    struct thrum_screen *screen;
    setlocale(LC_CTYPE, "");
    if (!snapshot)
        return 9;
    scene_make(argc > 2 ? (enum scene_name)atoi(argv[2]) : SCENE_PICKED, snapshot, &facts);
    config.log_fd = open("/dev/null", O_WRONLY);
    if (argc > 3)
        config.look = (enum thrum_screen_look)atoi(argv[3]);
    enum thrum_status status = thrum_screen_create(&config, &screen);
    if (status != THRUM_OK) {
        printf("NO SCREEN %d\n", status);
        free(snapshot);
        return 3;
    }
    int count = 0;
    while (take_keys(screen, &facts, &count)) {
        fprintf(stderr, "NOISE ON STDERR\n");
        thrum_screen_draw(screen, snapshot, &facts);
        struct pollfd fd = {.fd = thrum_screen_key_fd(screen), .events = POLLIN};
        poll(&fd, 1, 50);
    }
    thrum_screen_destroy(screen);
    fprintf(stderr, "STDERR IS BACK\n");
    free(snapshot);
    return 0;
}

/* --- A terminal line with a small shell on it ----------------------------------------------------------------- */

struct report {
    pid_t job;
    int status;        /* of waitpid(); -1 in the first report, which only names the job */
    int terminal_same; /* terminal modes as before the job */
};

struct session {
    int master;
    int report;  /* the shell tells what became of its job */
    int command; /* a byte makes it bring the job to the foreground again */
    pid_t shell;
    pid_t job;
    char seen[1 << 20]; /* everything that was written to the terminal */
    size_t n;
};

static bool same_modes(const struct termios *a, const struct termios *b)
{
    return a->c_iflag == b->c_iflag && a->c_oflag == b->c_oflag && a->c_cflag == b->c_cflag &&
           a->c_lflag == b->c_lflag && memcmp(a->c_cc, b->c_cc, sizeof a->c_cc) == 0;
}

static void run_job(const char *const *environment, bool keys_elsewhere, const char *scene)
{
    for (size_t i = 0; environment[i]; i += 2)
        if (environment[i + 1])
            setenv(environment[i], environment[i + 1], 1);
        else
            unsetenv(environment[i]);
    if (keys_elsewhere)
        dup2(open("/dev/null", O_RDONLY), STDIN_FILENO);
    signal(SIGTTOU, SIG_DFL);
    signal(SIGHUP, SIG_DFL);
    alarm(120); /* a failed test leaves nothing behind for long */
    execl(self, self, "demo", scene, (char *)NULL);
    _exit(127);
}

/* The shell: starts the job in the foreground, reports every change of its state. */
static void run_shell(int report, int command, const char *const *environment, bool keys_elsewhere,
                      const char *scene)
{
    struct termios before, now;
    signal(SIGTTOU, SIG_IGN);
    signal(SIGHUP, SIG_IGN);
    alarm(120);
    tcgetattr(STDIN_FILENO, &before);
    pid_t job = fork();
    if (job == 0) {
        setpgid(0, 0);
        tcsetpgrp(STDIN_FILENO, getpid());
        run_job(environment, keys_elsewhere, scene);
    }
    struct report news = {.job = job, .status = -1};
    (void)!write(report, &news, sizeof news);
    while (waitpid(job, &news.status, WUNTRACED) == job) {
        tcsetpgrp(STDIN_FILENO, getpid());
        news.terminal_same = tcgetattr(STDIN_FILENO, &now) == 0 && same_modes(&before, &now);
        (void)!write(report, &news, sizeof news);
        char byte;
        if (!WIFSTOPPED(news.status) || read(command, &byte, 1) != 1)
            break;
        tcsetpgrp(STDIN_FILENO, job);
        kill(-job, SIGCONT);
    }
    _exit(0);
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Takes what the terminal got, for at most ms; false when nothing came. */
static bool take_output(struct session *session, int ms)
{
    struct pollfd fd = {.fd = session->master, .events = POLLIN};
    if (session->master < 0 || poll(&fd, 1, ms) <= 0)
        return false;
    ssize_t n = read(session->master, session->seen + session->n, sizeof session->seen - 1 - session->n);
    if (n <= 0)
        return false;
    session->n += (size_t)n;
    session->seen[session->n] = 0;
    return true;
}

#define PATIENCE_S 20.0 /* a limit for a hung test, not a measurement */

/* Waits until the terminal has got the text, looking from byte `from` on. */
static void wait_for(struct session *session, size_t from, const char *text)
{
    double end = now_s() + PATIENCE_S;
    while (!strstr(session->seen + from, text)) {
        if (now_s() > end)
            fail_msg("the terminal never got \"%s\"", text);
        take_output(session, 50);
    }
}

static struct report next_report(struct session *session)
{
    struct report news;
    double end = now_s() + PATIENCE_S;
    struct pollfd fd = {.fd = session->report, .events = POLLIN};
    while (poll(&fd, 1, 20) == 0) {
        if (now_s() > end)
            fail_msg("the program neither stopped nor ended");
        take_output(session, 0); /* a full line would hold the program up */
    }
    assert_int_equal(read(session->report, &news, sizeof news), sizeof news);
    while (take_output(session, 50))
        ;
    return news;
}

static struct session *begin(const char *const *environment, int rows, int cols, bool keys_elsewhere,
                             enum scene_name scene)
{
    int report[2], command[2];
    char number[16];
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)cols};
    struct session *session = calloc(1, sizeof *session);
    assert_non_null(session);
    snprintf(number, sizeof number, "%d", (int)scene);
    session->master = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(session->master >= 0 && grantpt(session->master) == 0 && unlockpt(session->master) == 0);
    assert_true(pipe(report) == 0 && pipe(command) == 0);
    char name[128];
    snprintf(name, sizeof name, "%s", ptsname(session->master));
    session->shell = fork();
    if (session->shell == 0) {
        setsid();
        int slave = open(name, O_RDWR);
        ioctl(slave, TIOCSCTTY, 0);
        ioctl(slave, TIOCSWINSZ, &size);
        dup2(slave, 0), dup2(slave, 1), dup2(slave, 2);
        close(session->master), close(report[0]), close(command[1]);
        run_shell(report[1], command[0], environment, keys_elsewhere, number);
    }
    close(report[1]), close(command[0]);
    session->report = report[0];
    session->command = command[1];
    session->job = next_report(session).job;
    return session;
}

static void end(struct session *session)
{
    kill(session->shell, SIGKILL);
    waitpid(session->shell, NULL, 0);
    if (session->master >= 0)
        close(session->master);
    close(session->report);
    close(session->command);
    free(session);
}

static void keys(struct session *session, const char *bytes, size_t n)
{
    assert_int_equal(write(session->master, bytes, n), (ssize_t)n);
}

static const char *const everyday[] = {"TERM", "xterm-256color", "LC_ALL", "C.UTF-8", NULL};

/* What xterm's terminfo entry says: back from the other screen, cursor visible, pastes as they were. */
static void assert_given_back(const struct session *session, size_t from, struct report news)
{
    assert_true(news.terminal_same);
    assert_non_null(strstr(session->seen + from, "\x1b[?1049l"));
    assert_non_null(strstr(session->seen + from, "\x1b[?25h"));
    assert_non_null(strstr(session->seen + from, "\x1b[?2004l"));
    assert_null(strstr(strstr(session->seen + from, "\x1b[?2004l"), "\x1b[?2004h"));
}

/* --- Tests ----------------------------------------------------------------------------------------------------- */

static void end_by(int signal_number, const char *bytes, bool orderly)
{
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    assert_non_null(strstr(session->seen, "\x1b[?1049h"));
    assert_null(strstr(session->seen, "\x1b[?1049l"));
    if (signal_number)
        kill(session->job, signal_number);
    else
        keys(session, bytes, strlen(bytes));
    struct report news = next_report(session);
    assert_given_back(session, 0, news);
    if (orderly)
        assert_true(WIFEXITED(news.status) && WEXITSTATUS(news.status) == 0);
    else
        assert_false(WIFEXITED(news.status) && WEXITSTATUS(news.status) == 0);
    assert_null(strstr(session->seen, "NOISE"));
    if (orderly)
        assert_non_null(strstr(session->seen, "STDERR IS BACK"));
    end(session);
}

static void terminal_is_given_back_after_q(void **state)
{
    (void)state;
    end_by(0, "q", true);
}

static void terminal_is_given_back_after_ctrl_c(void **state)
{
    (void)state;
    end_by(0, "\x03", true);
}

static void terminal_is_given_back_after_term_and_hup(void **state)
{
    (void)state;
    end_by(SIGTERM, NULL, true);
    end_by(SIGHUP, NULL, true);
}

static void terminal_is_given_back_after_a_crash(void **state)
{
    (void)state;
    end_by(SIGSEGV, NULL, false);
    end_by(SIGABRT, NULL, false);
    end_by(0, "\x1c", false); /* Ctrl-\ */
}

static void terminal_is_given_back_while_stopped_and_taken_again(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    for (int i = 0; i < 2; i++) {
        size_t from = session->n;
        keys(session, "\x1a", 1); /* Ctrl-Z */
        struct report news = next_report(session);
        assert_true(WIFSTOPPED(news.status));
        assert_given_back(session, from, news);
        from = session->n;
        assert_int_equal(write(session->command, "f", 1), 1);
        wait_for(session, from, "\x1b[?1049h");
        wait_for(session, from, "\x1b[?2004h");
        wait_for(session, from, "99.6");
    }
    keys(session, "n", 1);
    wait_for(session, 0, "K1=next");
    size_t from = session->n;
    keys(session, "q", 1);
    assert_given_back(session, from, next_report(session));
    end(session);
}

static void ends_when_the_terminal_goes(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    close(session->master);
    session->master = -1;
    struct report news = next_report(session);
    assert_true(WIFEXITED(news.status) && WEXITSTATUS(news.status) == 0);
    end(session);
}

static void ends_although_the_terminal_is_held_by_ctrl_s(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    keys(session, "\x13", 1);
    kill(session->job, SIGTERM);
    assert_given_back(session, 0, next_report(session));
    end(session);
}

static void follows_the_window(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    static const unsigned short sizes[][2] = {{1, 1},  {40, 120}, {2, 500}, {200, 500},
                                              {5, 20}, {0, 0},    {60, 200}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        struct winsize size = {.ws_row = sizes[i][0], .ws_col = sizes[i][1]};
        size_t from = session->n;
        ioctl(session->master, TIOCSWINSZ, &size);
        if (sizes[i][0] == 40 || sizes[i][0] == 60)
            wait_for(session, from, "95 %");
        if (sizes[i][0] == 5)
            wait_for(session, from, "write it down");
    }
    keys(session, "q", 1);
    assert_given_back(session, 0, next_report(session));
    end(session);
}

static void keys_do_what_they_say_and_unknown_ones_nothing(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    keys(session, "\x1b[1;5P\x1b[207~\x1bOZ", 16); /* no terminal's entry has these */
    keys(session, "n", 1);
    wait_for(session, 0, "K1=next");
    keys(session, " ", 1);
    wait_for(session, 0, "take");
    keys(session, "\x1b[D", 3);
    wait_for(session, 0, "previous");
    size_t from = session->n;
    keys(session, "\x1bOC", 3);
    wait_for(session, from, "next");
    keys(session, "17\r", 3);
    wait_for(session, 0, "goto17");
    keys(session, "q", 1);
    next_report(session);
    end(session);
}

/* The sequences are those of xterm's "bracketed paste mode". */
static void what_is_pasted_is_ignored_and_says_so(void **state)
{
    (void)state;
    static const char paste[] = "\x1b[200~q17\r f\nqqq\x1b[201~";
    struct session *session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    wait_for(session, 0, "\x1b[?2004h");
    keys(session, paste, strlen(paste));
    wait_for(session, 0, "PASTE IGNORED");
    keys(session, "n", 1);
    wait_for(session, 0, "K1=next");
    for (size_t i = 0; paste[i]; i++) /* a slow line */
        keys(session, &paste[i], 1);
    keys(session, "p", 1);
    wait_for(session, 0, "2=previous");
    size_t from = session->n;
    keys(session, "q", 1);
    assert_given_back(session, from, next_report(session));
    end(session);
}

static void a_terminal_of_another_language_is_asked_for_nothing(void **state)
{
    (void)state;
    static const char *const older[] = {"TERM", "vt52", "LC_ALL", "C.UTF-8", NULL};
    struct session *session = begin(older, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    keys(session, "q", 1);
    next_report(session);
    assert_null(strstr(session->seen, "2004"));
    end(session);
}

static void keys_come_from_the_terminal_when_sound_is_on_standard_input(void **state)
{
    (void)state;
    struct session *session = begin(everyday, 24, 80, true, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    keys(session, "u", 1);
    wait_for(session, 0, "K1=undo");
    keys(session, "q", 1);
    assert_given_back(session, 0, next_report(session));
    end(session);
}

static void only_ascii_unless_the_locale_is_utf_8(void **state)
{
    (void)state;
    static const char *const plain[] = {"TERM", "vt100", "LC_ALL", "C", NULL};
    struct session *session = begin(plain, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    for (size_t i = 0; i < session->n; i++)
        assert_true((unsigned char)session->seen[i] < 0x80);
    end(session);
    session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    wait_for(session, 0, "█");
    end(session);
}

static void no_colour_when_not_wanted(void **state)
{
    (void)state;
    static const char *const plain[] = {"TERM", "xterm-256color", "LC_ALL", "C", "NO_COLOR", "1", NULL};
    struct session *session = begin(plain, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    assert_null(strstr(session->seen, "\x1b[38;"));
    assert_null(strstr(session->seen, "\x1b[3"
                                      "2m"));
    end(session);
    session = begin(everyday, 24, 80, false, SCENE_PICKED);
    wait_for(session, 0, "99.6");
    assert_non_null(strstr(session->seen, "\x1b[38;"));
    end(session);
}

static void a_terminal_without_cursor_is_refused(void **state)
{
    (void)state;
    static const char *const terms[] = {"dumb", "nosuchterm", "", NULL};
    for (size_t i = 0; i < sizeof terms / sizeof terms[0]; i++) {
        const char *const environment[] = {"TERM", terms[i], "LC_ALL", "C", NULL, NULL};
        struct session *session = begin(environment, 24, 80, false, SCENE_PICKED);
        struct report news = next_report(session);
        assert_true(WIFEXITED(news.status) && WEXITSTATUS(news.status) == 3);
        assert_true(news.terminal_same);
        assert_non_null(strstr(session->seen, "NO SCREEN -7"));
        end(session);
    }
}

int main(int argc, char **argv)
{
    self = argv[0];
    if (argc > 1 && strcmp(argv[1], "demo") == 0)
        return demo(argc, argv);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(terminal_is_given_back_after_q),
        cmocka_unit_test(terminal_is_given_back_after_ctrl_c),
        cmocka_unit_test(terminal_is_given_back_after_term_and_hup),
        cmocka_unit_test(terminal_is_given_back_after_a_crash),
        cmocka_unit_test(terminal_is_given_back_while_stopped_and_taken_again),
        cmocka_unit_test(ends_when_the_terminal_goes),
        cmocka_unit_test(ends_although_the_terminal_is_held_by_ctrl_s),
        cmocka_unit_test(follows_the_window),
        cmocka_unit_test(keys_do_what_they_say_and_unknown_ones_nothing),
        cmocka_unit_test(what_is_pasted_is_ignored_and_says_so),
        cmocka_unit_test(a_terminal_of_another_language_is_asked_for_nothing),
        cmocka_unit_test(keys_come_from_the_terminal_when_sound_is_on_standard_input),
        cmocka_unit_test(only_ascii_unless_the_locale_is_utf_8),
        cmocka_unit_test(no_colour_when_not_wanted),
        cmocka_unit_test(a_terminal_without_cursor_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
