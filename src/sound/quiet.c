#include "sound/quiet.h"

#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

struct thrum_quiet {
    int saved;
    FILE *stream;
};

struct thrum_quiet *thrum_quiet_begin(const char *log_path)
{
    struct thrum_quiet *q = calloc(1, sizeof *q);
    if (!q)
        return NULL;
    (void)fflush(stderr);
    q->saved = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    int streamed = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    int elsewhere = log_path ? open(log_path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666) : -1;
    if (elsewhere < 0)
        elsewhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    q->stream = streamed >= 0 ? fdopen(streamed, "w") : NULL;
    if (q->stream)
        (void)setvbuf(q->stream, NULL, _IONBF, 0);
    else if (streamed >= 0)
        close(streamed);
    if (q->saved < 0 || !q->stream || elsewhere < 0 || dup2(elsewhere, STDERR_FILENO) < 0) {
        if (elsewhere >= 0)
            close(elsewhere);
        if (q->stream)
            fclose(q->stream);
        if (q->saved >= 0)
            close(q->saved);
        free(q);
        return NULL;
    }
    close(elsewhere);
    return q;
}

FILE *thrum_quiet_stream(struct thrum_quiet *quiet)
{
    return quiet ? quiet->stream : stderr;
}

void thrum_quiet_end(struct thrum_quiet *q)
{
    if (q) {
        (void)fflush(stderr);
        (void)dup2(q->saved, STDERR_FILENO);
        close(q->saved);
        fclose(q->stream);
        free(q);
    }
}
