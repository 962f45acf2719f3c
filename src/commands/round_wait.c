/* Waiting for an input that is not there, or in use. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/progress.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "sound/message.h"

#define LOOK_EACH_S 2.0
#define STOP_S      0.25 /* a signal just before the wait is seen after that */

/* An empty round, and why it has not begun. */
static void draw(const struct round_job *job, const struct thrum_message *why,
                 struct thrum_snapshot *snapshot, struct thrum_screen_facts *facts)
{
    memset(facts, 0, sizeof *facts);
    text_set(facts->input, sizeof facts->input, 0, "%s", job->from);
    text_set(facts->message, sizeof facts->message, 0, "%s", why->text);
    facts->live = true;
    facts->input_state = THRUM_INPUT_WAIT;
    thrum_screen_draw(job->screen, snapshot, facts);
}

/* One key looks again, whatever it is; true when it is to leave. */
static bool pressed(const struct round_job *job, bool *look)
{
    struct thrum_key_press press;
    while (thrum_screen_key(job->screen, &press)) {
        if (press.key == THRUM_KEY_QUIT || press.key == THRUM_KEY_FINISH)
            return true;
        *look = *look || press.key != THRUM_KEY_NONE;
    }
    return false;
}

/* Until it is time to look again; true when it is to leave. Drawn once, and after a key or another window size: nothing else
 * changes. */
static bool wait_to_look(const struct round_job *job, const struct thrum_message *why,
                         struct thrum_snapshot *snapshot, struct thrum_screen_facts *facts)
{
    bool look = false, leave = false, news = true;
    for (double began_s = clock_s(); !look && !leave && clock_s() - began_s < LOOK_EACH_S;) {
        struct pollfd keys = {.fd = job->screen ? thrum_screen_key_fd(job->screen) : -1, .events = POLLIN};
        if (job->screen && news)
            draw(job, why, snapshot, facts);
        news = poll(&keys, 1, (int)(1000.0 * STOP_S)) != 0; /* a signal ends it too */
        if (job->screen && news)
            leave = pressed(job, &look);
        leave = leave || stop_asked();
    }
    return leave;
}

int round_wait(struct round_job *job, int (*open)(struct round_job *, struct thrum_message *),
               struct thrum_message *message)
{
    struct thrum_snapshot *snapshot = calloc(1, sizeof *snapshot);
    struct thrum_screen_facts *facts = malloc(sizeof *facts);
    struct thrum_message told = {.text = ""};
    int code = CODE_DEVICE;
    bool leave = !snapshot || !facts;
    while (code == CODE_DEVICE && !leave) {
        if (!job->screen && strcmp(message->text, told.text) != 0)
            say("%s; waiting for it", message->text);
        told = *message;
        leave = wait_to_look(job, message, snapshot, facts);
        if (!leave)
            code = open(job, message);
    }
    free(facts);
    free(snapshot);
    return code;
}
