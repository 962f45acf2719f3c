#include "commands/chatter.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sound/message.h"

#define TAIL     2048
#define MOST     (256 * 1024)
#define NUMBER_N 20 /* " (1000 times)" and more */

void chatter_begin(struct chatter *chatter)
{
    const char *folder = getenv("TMPDIR");
    if (!folder || strlen(folder) > 32)
        folder = "/tmp";
    snprintf(chatter->path, sizeof chatter->path, "%s/thrum-XXXXXX", folder);
    chatter->fd = mkstemp(chatter->path);
    if (chatter->fd < 0)
        chatter->path[0] = 0;
}

/* The end of the file, closed with a zero; returns the file's size. */
static off_t read_tail(const struct chatter *chatter, char tail[TAIL + 1])
{
    struct stat log;
    tail[0] = 0;
    if (chatter->fd < 0 || fstat(chatter->fd, &log) != 0)
        return 0;
    ssize_t n = pread(chatter->fd, tail, TAIL, log.st_size > TAIL ? log.st_size - TAIL : 0);
    tail[n > 0 ? n : 0] = 0;
    return log.st_size;
}

void chatter_bound(const struct chatter *chatter)
{
    char tail[TAIL + 1];
    if (read_tail(chatter, tail) <= MOST || ftruncate(chatter->fd, 0) != 0)
        return;
    if (pwrite(chatter->fd, tail, strlen(tail), 0) < 0)
        return; /* they append all the same */
}

static void add_line(struct thrum_screen_facts *facts, const char *line, int times)
{
    if (facts->n_log == THRUM_FACT_LOGS)
        memmove(facts->log[0], facts->log[1], sizeof facts->log[0] * (THRUM_FACT_LOGS - 1));
    else
        facts->n_log++;
    char *last = facts->log[facts->n_log - 1];
    text_set(last, sizeof facts->log[0] - NUMBER_N, 0, "%s", line);
    if (times > 1)
        snprintf(last + strlen(last), NUMBER_N, " (%d times)", times);
}

void chatter_newest(const struct chatter *chatter, struct thrum_screen_facts *facts)
{
    char tail[TAIL + 1], *rest = NULL;
    facts->n_log = 0;
    read_tail(chatter, tail);
    char *line = strtok_r(tail, "\n", &rest);
    for (int times = 1; line; times++) {
        char *next = strtok_r(NULL, "\n", &rest);
        if (next && strcmp(next, line) == 0)
            continue;
        add_line(facts, line, times);
        times = 0;
        line = next;
    }
}

void chatter_end(struct chatter *chatter)
{
    if (chatter->fd < 0)
        return;
    close(chatter->fd);
    unlink(chatter->path);
    chatter->fd = -1;
}
