#include "screen/guard.h"

#include <errno.h>
#include <signal.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

static const int fatal_signals[] = {SIGSEGV, SIGBUS, SIGILL, SIGFPE, SIGABRT, SIGSYS, SIGQUIT};
static const int quit_signals[] = {SIGINT, SIGTERM, SIGHUP};
#define FATAL_SIGNALS (sizeof fatal_signals / sizeof fatal_signals[0])
#define QUIT_SIGNALS  (sizeof quit_signals / sizeof quit_signals[0])

/* Signal handlers have no argument of ours, so this has to be reachable without one. */
static struct {
    volatile sig_atomic_t up;
    volatile sig_atomic_t stop;
    volatile sig_atomic_t go_on;
    volatile sig_atomic_t quit;
    int tty_fd;
    int log_fd;    /* -1: standard error is left alone */
    int stderr_fd; /* where standard error really goes; -1 when it is not diverted */
    struct termios first;
    char leaving[256];
    size_t leaving_size;
    struct sigaction old_fatal[FATAL_SIGNALS];
    struct sigaction old_quit[QUIT_SIGNALS];
    struct sigaction old_stop;
    struct sigaction old_go_on;
} guard;

/* --- In handlers: async-signal-safe calls only ------------------------------------------------------------- */

bool guard_has_terminal(void)
{
    pid_t job = tcgetpgrp(guard.tty_fd);
    return job < 0 || job == getpgrp(); /* no controlling terminal: then nobody can take it away either */
}

void guard_write_leaving(void)
{
    size_t done = 0;
    while (done < guard.leaving_size) {
        ssize_t n = write(guard.tty_fd, guard.leaving + done, guard.leaving_size - done);
        if (n <= 0)
            break;
        done += (size_t)n;
    }
}

static void put_back_now(void)
{
    if (guard_has_terminal()) {
        tcsetattr(guard.tty_fd, TCSANOW, &guard.first);
        guard_write_leaving();
    }
    if (guard.stderr_fd >= 0)
        dup2(guard.stderr_fd, STDERR_FILENO);
}

static void on_fatal(int number)
{
    int error = errno;
    if (guard.up) {
        guard.up = 0;
        put_back_now();
    }
    for (size_t i = 0; i < FATAL_SIGNALS; i++)
        if (fatal_signals[i] == number)
            sigaction(number, &guard.old_fatal[i], NULL);
    raise(number); /* waits until this handler returns, then does what it would have done without us */
    errno = error;
}

/* A terminal stopped with Ctrl-S in the middle of a picture holds the main thread in write(). A terminal can only
 * be started by who has stopped it, so it is stopped once more first. */
void guard_let_flow(void)
{
    if (!guard_has_terminal())
        return;
    tcflow(guard.tty_fd, TCOOFF);
    tcflow(guard.tty_fd, TCOON);
}

static void on_quit(int number)
{
    int error = errno;
    guard.quit = 1;
    guard_let_flow();
    for (size_t i = 0; i < QUIT_SIGNALS; i++)
        if (quit_signals[i] == number && guard.old_quit[i].sa_handler != SIG_DFL)
            guard.old_quit[i].sa_handler(number);
    errno = error;
}

static void on_stop(int number)
{
    (void)number;
    guard.go_on = 0;
    guard.stop = 1;
}

static void on_go_on(int number)
{
    (void)number;
    guard.go_on = 1;
}

/* --- Outside ------------------------------------------------------------------------------------------------- */

static void install(int number, void (*handler)(int), int flags, struct sigaction *old)
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_handler = handler;
    action.sa_flags = flags;
    sigfillset(
        &action.sa_mask); /* among others TTOU: a dying process may set the terminal from the background */
    sigaction(number, &action, old);
}

/* Ignored signals stay ignored (nohup); a handler that wants more than a number cannot be called by ours. */
static bool may_take(const struct sigaction *old)
{
    return !(old->sa_flags & SA_SIGINFO) && old->sa_handler != SIG_IGN;
}

static void install_all(void)
{
    for (size_t i = 0; i < FATAL_SIGNALS; i++)
        install(fatal_signals[i], on_fatal, 0, &guard.old_fatal[i]);
    for (size_t i = 0; i < QUIT_SIGNALS; i++) {
        sigaction(quit_signals[i], NULL, &guard.old_quit[i]);
        if (may_take(&guard.old_quit[i]))
            install(quit_signals[i], on_quit, SA_RESTART, &guard.old_quit[i]);
    }
    sigaction(SIGTSTP, NULL, &guard.old_stop);
    if (may_take(&guard.old_stop))
        install(SIGTSTP, on_stop, SA_RESTART, &guard.old_stop);
    install(SIGCONT, on_go_on, SA_RESTART, &guard.old_go_on);
}

void guard_divert_stderr(void)
{
    if (guard.log_fd >= 0 && guard.stderr_fd >= 0)
        dup2(guard.log_fd, STDERR_FILENO);
}

void guard_release_stderr(void)
{
    if (guard.stderr_fd >= 0)
        dup2(guard.stderr_fd, STDERR_FILENO);
}

bool guard_begin(int tty_fd, int log_fd)
{
    if (guard.up)
        return false;
    memset(&guard, 0, sizeof guard);
    guard.stderr_fd = -1;
    if (tcgetattr(tty_fd, &guard.first) != 0)
        return false;
    guard.tty_fd = tty_fd;
    guard.log_fd = log_fd;
    if (log_fd >= 0)
        guard.stderr_fd = dup(STDERR_FILENO);
    install_all();
    guard.up = 1;
    guard_divert_stderr();
    return true;
}

/* terminfo may ask for waiting time in the form $<5>; a dying process does not wait. */
void guard_add_leaving(const char *sequence)
{
    for (const char *c = sequence; *c && guard.leaving_size < sizeof guard.leaving; c++)
        if (c[0] == '$' && c[1] == '<' && strchr(c, '>'))
            c = strchr(c, '>');
        else
            guard.leaving[guard.leaving_size++] = *c;
}

enum guard_wish guard_wish(void)
{
    if (guard.quit) {
        guard.quit = 0;
        return GUARD_QUIT;
    }
    if (guard.stop) {
        guard.stop = 0;
        return GUARD_STOP;
    }
    if (guard.go_on) {
        guard.go_on = 0;
        return GUARD_GO_ON;
    }
    return GUARD_NOTHING;
}

/* When the signal came from the keyboard, the rest of the job has had its own. A shell may have brought the job back
 * before we came to stop: then it is not done any more. */
void guard_stop_job(void)
{
    struct sigaction ours, plain;
    memset(&plain, 0, sizeof plain);
    plain.sa_handler = SIG_DFL;
    sigemptyset(&plain.sa_mask);
    if (!guard.go_on) {
        sigaction(SIGTSTP, &plain, &ours);
        raise(SIGTSTP);
        sigaction(SIGTSTP, &ours, NULL);
    }
    guard.go_on = 0;
}

void guard_hold_background(bool hold)
{
    sigset_t background;
    sigemptyset(&background);
    sigaddset(&background, SIGTTOU);
    pthread_sigmask(hold ? SIG_BLOCK : SIG_UNBLOCK, &background, NULL);
}

void guard_end(void)
{
    if (!guard.up)
        return;
    if (guard_has_terminal())
        tcsetattr(guard.tty_fd, TCSANOW, &guard.first);
    guard.up = 0;
    for (size_t i = 0; i < FATAL_SIGNALS; i++)
        sigaction(fatal_signals[i], &guard.old_fatal[i], NULL);
    for (size_t i = 0; i < QUIT_SIGNALS; i++)
        sigaction(quit_signals[i], &guard.old_quit[i], NULL);
    sigaction(SIGTSTP, &guard.old_stop, NULL);
    sigaction(SIGCONT, &guard.old_go_on, NULL);
    guard_release_stderr();
    if (guard.stderr_fd >= 0)
        close(guard.stderr_fd);
    guard.stderr_fd = -1;
}
