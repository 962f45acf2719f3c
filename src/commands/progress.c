#include "commands/progress.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "commands/say.h"

#define PATIENCE_S 0.5
#define EACH_S     0.1

double clock_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

void progress_begin(struct progress *progress, const char *what)
{
    memset(progress, 0, sizeof *progress);
    const char *slash = strrchr(what, '/');
    snprintf(progress->what, sizeof progress->what, "%s", slash && slash[1] ? slash + 1 : what);
    for (char *c = progress->what; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7F)
            *c = '?';
    progress->began_s = clock_s();
}

void progress_show(struct progress *progress, uint64_t frames, uint64_t total, double rate_hz)
{
    double now_s = clock_s();
    if (now_s - progress->began_s < PATIENCE_S || now_s - progress->shown_s < EACH_S ||
        !isatty(fileno(say_stream_now())))
        return;
    progress->shown_s = now_s;
    double sound_s = (double)frames / rate_hz;
    FILE *stream = say_stream_now();
    fprintf(stream, "\r%.50s: %d:%02d min heard", progress->what, (int)(sound_s / 60.0), (int)sound_s % 60);
    if (total >= frames && total > 0)
        fprintf(stream, ", %2.0f %%", 100.0 * (double)frames / (double)total);
    fputs("\033[K", stream);
    fflush(stream);
}

void progress_end(struct progress *progress)
{
    if (progress->shown_s > 0.0) {
        fputs("\r\033[K", say_stream_now());
        fflush(say_stream_now());
    }
    progress->shown_s = 0.0;
}
