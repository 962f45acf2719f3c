#include "commands/stop.h"

#include <errno.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "commands/command.h"

#define AGAIN_MS 100 /* a terminal and a shell may both send the same Ctrl-C */

static volatile sig_atomic_t asked, asked_ms, insisted, at_once;

/* Wraps around; only differences count. */
static sig_atomic_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (sig_atomic_t)((now.tv_sec % 1000000) * 1000 + now.tv_nsec / 1000000);
}

static void ask(int number)
{
    int error = errno;
    sig_atomic_t now = now_ms();
    if (!asked)
        asked_ms = now;
    else if (now - asked_ms >= AGAIN_MS || now < asked_ms)
        insisted = 1;
    asked = number;
    if (insisted && at_once)
        _exit(CODE_BROKEN_OFF);
    errno = error;
}

void stop_prepare(void)
{
    static const int ends[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction action;
    memset(&action, 0, sizeof action);
    sigemptyset(&action.sa_mask);
    action.sa_handler = ask;
    for (unsigned i = 0; i < sizeof ends / sizeof *ends; i++) {
        struct sigaction before;
        /* What nohup or a shell's background job ignores stays ignored. */
        if (sigaction(ends[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN)
            sigaction(ends[i], &action, NULL);
    }
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
    sigaction(SIGXFSZ, &action, NULL);
}

int stop_asked(void)
{
    return asked;
}

bool stop_insisted(void)
{
    return insisted != 0;
}

void stop_ends_at_once(bool yes)
{
    at_once = yes;
}
