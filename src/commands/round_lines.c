/* A round in lines that is led by lines: keys from standard input where there is no screen. */
#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "commands/progress.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "screen/line_keys.h"

#define LOOK_S 0.1
#define MOST   32

struct lines {
    char text[256];
    size_t n;
    bool too_long, ended;
};

static bool do_line(const struct round_job *job, struct worker *worker, const struct worker_view *view,
                    const char *line)
{
    struct thrum_key_press press[MOST];
    int n = thrum_line_keys(line, job->take_key, press, MOST);
    if (n < 0) {
        say("'%s' is no key: an empty line takes, 17 or g TAG goes there, n next, p back, w on with new "
            "wires, r repeat, u undo, "
            "d drop this wire's last touch, x not it, < > mend tags, m follow a sender that has moved, i "
            "look for a lost input (i2: take the "
            "second in "
            "its place), f finish, q leave",
            line);
        return false;
    }
    for (int i = 0; i < n; i++)
        if (round_pass_key(worker, view, &press[i]))
            return true;
    return false;
}

/* What has come in; true when the round is to end. Keys that cannot be read, as from a folder, have ended too: they would be
 * asked for without end. */
static bool read_lines(struct lines *lines, const struct round_job *job, struct worker *worker,
                       const struct worker_view *view)
{
    char piece[256];
    ssize_t n = read(STDIN_FILENO, piece, sizeof piece);
    if (n < 0 && (errno == EINTR || errno == EAGAIN))
        return false;
    lines->ended = n <= 0;
    for (ssize_t i = 0; i < n; i++) {
        if (piece[i] != '\n') {
            lines->too_long = lines->n + 1 >= sizeof lines->text;
            if (!lines->too_long && piece[i] != '\r')
                lines->text[lines->n++] = piece[i];
            continue;
        }
        lines->text[lines->n] = 0;
        lines->n = 0;
        if (do_line(job, worker, view, lines->text))
            return true;
    }
    return false;
}

/* What only ends when it is told to. */
static bool endless(const struct round_job *job)
{
    return intake_info(job->intake)->live || intake_info(job->intake)->frames == 0;
}

bool round_lead_by_lines(const struct round_job *job, struct worker *worker, struct round_teller *teller,
                         struct worker_view *view)
{
    struct lines lines = {.n = 0};
    bool read = true, over = false;
    while (!view->ended && read && !over && !stop_asked()) {
        struct pollfd keys = {.fd = lines.ended ? -1 : STDIN_FILENO, .events = POLLIN};
        if (poll(&keys, 1, (int)(1000.0 * LOOK_S)) > 0)
            over = read_lines(&lines, job, worker, view) || (lines.ended && endless(job));
        round_look(job, worker, view, over ? LOOK_S : 0.0);
        read = round_tell(teller, view);
    }
    return read;
}
