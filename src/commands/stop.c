#include "commands/stop.h"

#include <signal.h>
#include <string.h>

static volatile sig_atomic_t asked;

static void ask(int number)
{
    asked = number;
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
