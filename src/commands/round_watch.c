/* A round on the screen. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/progress.h"
#include "commands/round_job.h"
#include "commands/stop.h"
#include "sound/message.h"

#define DRAW_S        0.25 /* a picture at least, where nothing new comes */
#define MESSAGE_S     8.0
#define INPUT_GRACE_S 10.0

static enum thrum_input_state input_state(const struct worker_view *view)
{
    if (view->ended)
        return THRUM_INPUT_ENDED;
    if (view->input_lost)
        return THRUM_INPUT_LOST;
    return view->snapshot.now.frames > 0 ? THRUM_INPUT_LIVE : THRUM_INPUT_WAIT;
}

void round_facts(const struct round_job *job, const struct worker_view *view,
                 struct thrum_screen_facts *facts)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    memset(facts, 0, sizeof *facts);
    text_set(facts->input, sizeof facts->input, 0, "%s", view->input);
    facts->live = info->live;
    facts->practice = intake_practice(job->intake) != NULL;
    facts->hands_free = job->hands_free;
    facts->no_keys = !job->screen && !job->keys;
    facts->input_state = input_state(view);
    facts->length_s = (double)info->frames / info->rate_hz;
    facts->lost_frames = view->lost;
    text_set(facts->moved, sizeof facts->moved, 0, "%s", view->moved);
    for (facts->n_inputs = 0; view->input_lost && facts->n_inputs < view->offers.n; facts->n_inputs++)
        text_set(facts->inputs[facts->n_inputs], sizeof facts->inputs[0], 0, "%s",
                 view->offers.name[facts->n_inputs]);
    facts->recorded_s = (double)view->recorded / info->rate_hz;
    if (job->record)
        facts->record = view->recording ? THRUM_RECORD_ON
                        : view->ended   ? THRUM_RECORD_OFF
                                        : THRUM_RECORD_FAILED;
    bool fresh = view->input_lost || clock_s() - view->message_s < MESSAGE_S;
    if (view->ended && view->code != 0)
        text_set(facts->message, sizeof facts->message, 0, "%s", view->trouble.text);
    else if (view->message.text[0] && fresh)
        text_set(facts->message, sizeof facts->message, 0, "%s", view->message.text);
    if (job->screen)
        chatter_newest(&job->chatter, facts);
}

static bool action_of(enum thrum_key key, enum thrum_action *action)
{
    static const struct {
        enum thrum_key key;
        enum thrum_action action;
    } table[] = {
        {THRUM_KEY_TAKE, THRUM_TAKE},
        {THRUM_KEY_NEXT, THRUM_NEXT},
        {THRUM_KEY_PREVIOUS, THRUM_PREVIOUS},
        {THRUM_KEY_GO_TO, THRUM_GO_TO},
        {THRUM_KEY_REPEAT, THRUM_REPEAT},
        {THRUM_KEY_UNDO, THRUM_UNDO},
        {THRUM_KEY_DROP, THRUM_DROP},
        {THRUM_KEY_EXCLUDE, THRUM_EXCLUDE},
        {THRUM_KEY_NEW, THRUM_NEW},
        {THRUM_KEY_ALL_AGAIN, THRUM_ALL_AGAIN},
        {THRUM_KEY_TAG_LOWER, THRUM_TAG_LOWER},
        {THRUM_KEY_TAG_HIGHER, THRUM_TAG_HIGHER},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (table[i].key == key) {
            *action = table[i].action;
            return true;
        }
    }
    return false;
}

/* The number counts among those that the technician has seen. */
static void ask_input(struct worker *worker, const struct worker_view *view,
                      const struct thrum_key_press *press)
{
    int i = press->key == THRUM_KEY_INPUT ? press->tag[0] - '1' : -1;
    if (i < view->offers.n)
        worker_ask_input(worker, i >= 0 ? view->offers.name[i] : "");
}

bool round_pass_key(struct worker *worker, const struct worker_view *view,
                    const struct thrum_key_press *press)
{
    enum thrum_action action;
    if (press->key == THRUM_KEY_QUIT || press->key == THRUM_KEY_FINISH)
        return true;
    if (press->key == THRUM_KEY_LOOK || press->key == THRUM_KEY_INPUT)
        ask_input(worker, view, press);
    if (press->key == THRUM_KEY_FOLLOW)
        worker_ask_follow(worker);
    if (action_of(press->key, &action))
        worker_ask(worker, action, press->key == THRUM_KEY_GO_TO ? press->tag : NULL);
    return false;
}

static bool pass_keys(const struct round_job *job, struct worker *worker, const struct worker_view *view)
{
    struct thrum_key_press press;
    while (thrum_screen_key(job->screen, &press))
        if (round_pass_key(worker, view, &press))
            return true;
    return false;
}

/* The sound is over and nobody need look at it any longer: the time asked for is up, or the device failed for good. */
static bool is_over(const struct round_job *job, const struct worker_view *view, double began_s)
{
    bool no_keys = thrum_screen_key_fd(job->screen) < 0;
    if (view->ended && (job->for_s > 0.0 || intake_info(job->intake)->live || no_keys))
        return true;
    /* A dead input does not count sound, but time. */
    return job->for_s > 0.0 && clock_s() - began_s > job->for_s + INPUT_GRACE_S;
}

void round_watch(const struct round_job *job, struct worker *worker, struct worker_view *view)
{
    struct thrum_screen_facts *facts = malloc(sizeof *facts);
    double began_s = clock_s(), drawn_s = 0.0;
    bool over = facts == NULL;
    while (!over) {
        struct pollfd news[] = {{.fd = thrum_screen_key_fd(job->screen), .events = POLLIN},
                                {.fd = worker_fd(worker), .events = POLLIN}};
        poll(news, 2, (int)(1000.0 * DRAW_S));
        over = pass_keys(job, worker, view) || stop_asked() != 0;
        if (((news[0].revents | news[1].revents) & POLLIN) || clock_s() - drawn_s >= DRAW_S) {
            drawn_s = clock_s();
            round_look(job, worker, view, 0.0);
            chatter_bound(&job->chatter);
            round_facts(job, view, facts);
            thrum_screen_draw(job->screen, &view->snapshot, facts);
        }
        over = over || is_over(job, view, began_s);
    }
    free(facts);
}
